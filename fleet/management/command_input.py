"""The input of a command: a file or standard input, read no further than is needed to refuse it."""

import sys

from django.core.management.base import CommandError


def read_text(name, *, most_bytes):
    """Return the text of a UTF-8 file, of standard input for “-”. Raise CommandError, which says what is accepted."""
    try:
        content = _read(name, most_bytes + 1)
    except (OSError, ValueError) as error:
        raise CommandError(f"{name} cannot be read: {error}") from None
    if len(content) > most_bytes:
        raise CommandError(f"{name} is longer than {most_bytes:,} bytes, the most that can be read. Shorten it.")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        where = f"{error.reason} at byte {error.start}"
        raise CommandError(f"{name} cannot be read: it is not UTF-8 text ({where}).") from None


def _read(name, count):
    if name == "-":
        return sys.stdin.buffer.read(count)
    with open(name, "rb") as file:
        return file.read(count)
