"""Codes of labels: random, and of letters and digits that nobody mistakes for one another.

Digits and capital letters without I, L, O and U. Source: D. Crockford, Base 32, from memory.
"""

import secrets

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH = 26  # 5 bits each: 130 random bits
MISTAKEN = str.maketrans({"I": "1", "L": "1", "O": "0", "-": None, " ": None})


def new_code() -> str:
    """Return a code of 130 random bits."""
    return "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))


def normalised(text: str) -> str:
    """Return a typed code as it is stored; empty for a text that cannot be a code."""
    code = text.upper().translate(MISTAKEN)
    return code if len(code) == CODE_LENGTH and set(code) <= set(ALPHABET) else ""
