"""Forms without a login: each carries a signed token that binds it to one label and one kind of form.

A cookie would not do: these pages send no referrer, so that browsers send no origin with the form, and Django's own
check would refuse it. Nobody is signed in whose rights somebody else could misuse. The token shows that the form came
from here, for this label, and lets a form that is sent twice be stored once.
"""

import secrets
from hashlib import sha256

from django.core import signing

SALT = "inspections.label_page"
AGE = 12 * 60 * 60
RECEIPT_AGE = 24 * 60 * 60


def new_token(label, kind: str) -> str:
    return signing.dumps([label.pk, kind, secrets.token_hex(8)], salt=SALT)


def nonce_of(token: str, label, kind: str) -> str | None:
    """Return the random part of a token; None if it is altered, too old, or of another label or kind of form."""
    try:
        of_label, of_kind, nonce = signing.loads(token, salt=SALT, max_age=AGE)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return nonce if (of_label, of_kind) == (label.pk, kind) else None


def key_of(nonce: str, *content: str) -> str:
    """Return what identifies one form with its content: sent again it is the same, with another text it is not."""
    return sha256("\0".join((nonce, *content)).encode("utf-8", "surrogatepass")).hexdigest()


def new_receipt(label, kind: str, pk: int) -> str:
    """Return the part of an address that shows what was stored to whoever sent it."""
    return signing.dumps([label.pk, kind, pk], salt=f"{SALT}.receipt")


def read_receipt(receipt: str, label) -> tuple[str, int] | None:
    """Return the kind and the key of what was stored by this label; None for anything else."""
    try:
        of_label, kind, pk = signing.loads(receipt, salt=f"{SALT}.receipt", max_age=RECEIPT_AGE)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return (kind, pk) if of_label == label.pk else None
