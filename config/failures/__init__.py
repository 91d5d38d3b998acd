"""What a request does when the database or the broker fails: try again, or answer with a page that needs neither."""
