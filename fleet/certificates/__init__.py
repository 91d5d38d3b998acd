"""What stored certificates say of an instrument: its errors against its accuracy, and the interval they support."""
