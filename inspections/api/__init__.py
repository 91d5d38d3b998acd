"""Work, readings, outcomes, records and findings as JSON."""
