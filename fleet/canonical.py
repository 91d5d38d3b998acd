"""Canonical text and digest of data: the same for every database and release."""

import json
from hashlib import sha256
from json.encoder import c_make_encoder, encode_basestring

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
# What `_ENCODER.encode` makes anew for each text, which for the state of a row takes as long as the text itself.
_ENCODE = c_make_encoder and c_make_encoder(
    None, _ENCODER.default, encode_basestring, None, _ENCODER.key_separator, _ENCODER.item_separator, True, False, False
)


def canonical_json(content):
    """Return data as JSON text: sorted keys, no spaces; raise ValueError for what is not JSON."""
    return "".join(_ENCODE(content, 0)) if _ENCODE else _ENCODER.encode(content)


def digest_of(text):
    """Return the SHA-256 of a text in UTF-8, as 64 hexadecimal digits."""
    return sha256(text.encode("utf-8")).hexdigest()
