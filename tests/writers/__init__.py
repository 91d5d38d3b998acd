"""Many people write while a register is imported and backups are made, on SQLite: nothing lost, no error 500."""
