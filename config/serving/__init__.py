"""Between the socket and Django: limits on the size and the time of requests, and the worker that reads them."""
