"""The register as JSON. A router for each subject; config/api composes them with those of inspections."""
