"""One class for each component kind: what gas may pass there, and under which law."""
