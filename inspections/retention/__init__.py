"""How long what is kept: the rules, and which attached files have passed their period."""
