"""Canonical text and digest of data: the same for every database and release."""

import json
from hashlib import sha256

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical_json(content):
    """Return data as JSON text: sorted keys, no spaces; raise ValueError for what is not JSON."""
    return _ENCODER.encode(content)


def digest_of(text):
    """Return the SHA-256 of a text in UTF-8, as 64 hexadecimal digits."""
    return sha256(text.encode("utf-8")).hexdigest()
