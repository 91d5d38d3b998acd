"""What a safety notice names, and whether a machine, component or instrument is concerned by it."""
