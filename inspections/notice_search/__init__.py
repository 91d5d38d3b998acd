"""The search of the register for what a safety notice names."""
