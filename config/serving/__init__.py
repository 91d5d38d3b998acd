"""Between the socket and Django: how large a request may be, how long it may take to arrive, and who reads it."""
