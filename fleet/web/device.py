"""What a device that works without a network is told about who is signed in, and the headers of its requests."""

from django.utils.crypto import salted_hmac

PERSON = "Bobbin-Person"  # the mark of the person; also on every answer to somebody who is signed in
TIME = "Bobbin-Time"  # milliseconds since 1970 by the clock of the server
KEY = "Idempotency-Key"
TYPED_AT = "Typed-At"  # milliseconds since 1970, by the clock of the server as far as the device knows it


def device_mark(request) -> str:
    """Return the mark under which a device keeps what belongs to the person who is signed in; empty without one.

    It says nothing about the person, and is the same in every session.
    """
    person = getattr(request, "user", None)
    if not getattr(person, "is_authenticated", False) or request.session.get("second_factor"):
        return ""
    return salted_hmac("bobbin.device", str(person.pk)).hexdigest()[:32]
