"""Work, readings, results, records and findings as JSON."""
