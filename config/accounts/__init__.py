"""One's own account: signing in and out, password, second factor, and how long a session lasts."""
