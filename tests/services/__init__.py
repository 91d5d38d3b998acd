"""Real services that tests use: each is a context manager that starts one and stops it."""
