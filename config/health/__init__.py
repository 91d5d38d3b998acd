"""Which parts of the installation are up: web, database, broker, worker, scheduler; as a page, as JSON, by command."""
