"""Papers made from inspections: the record, the label, the retirement review."""
