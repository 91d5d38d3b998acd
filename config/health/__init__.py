"""Which services of the installation are up: web, database, broker, worker, scheduler; page, JSON and command."""
