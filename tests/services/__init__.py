"""Real parts that tests run against: each is a context manager that starts one and stops it."""
