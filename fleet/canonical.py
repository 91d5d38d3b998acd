"""One text and one digest for the same data, whichever database or release writes it."""

import json
from hashlib import sha256


def canonical_json(content):
    """Data as JSON text: sorted keys, no spaces, nothing that is not JSON."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest_of(text):
    """SHA-256 of a text in UTF-8, as 64 hexadecimal digits."""
    return sha256(text.encode("utf-8")).hexdigest()
