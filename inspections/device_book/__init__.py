"""The whole life of a machine as one file: what is gathered, how it is said, and the archive that is handed out."""
