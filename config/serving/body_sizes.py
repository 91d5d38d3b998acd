"""How many bytes the body of a request may have. Imported before Django is set up."""

ORDINARY_BYTES = 512 * 1024
FILE_BYTES = 20 * 1024 * 1024
FRAME_BYTES = 64 * 1024  # bytes that a form adds around its file
