"""A form that was sent and could not be saved: which fields are returned to the person, and which never are."""

import re
from dataclasses import dataclass, field

from django.http import RawPostDataException
from django.http.multipartparser import MultiPartParserError

from fleet.people.passkeys import ANSWER

SECRET = re.compile(r"pass(word|phrase|wd)|secret|token|recovery|otp", re.IGNORECASE)
NOT_AGAIN = ("csrfmiddlewaretoken", ANSWER)  # a passkey answers once: the password is asked for instead
# Pages on which every field identifies a person: none is shown again.
IDENTIFYING = ("login", "password_change", "password_set", "second_factor")


@dataclass(frozen=True, slots=True)
class SentForm:
    """A form that can be shown and sent again.

    kept    (name, value) of the fields that may be shown
    secrets names of fields that must be typed again
    files   names of fields whose file must be chosen again
    """

    path: str
    kept: list[tuple[str, str]] = field(default_factory=list)
    secrets: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)


def is_secret(name: str) -> bool:
    return bool(SECRET.search(name))


def sent_form(request) -> SentForm | None:
    """Return what was sent as an ordinary form, or None where nothing may be sent again."""
    match = request.resolver_match
    if request.method != "POST" or (match and (match.view_name or "").startswith(IDENTIFYING)):
        return None
    try:
        fields = list(request.POST.lists())
    except (RawPostDataException, MultiPartParserError, OSError):
        return None
    if not fields and not request.FILES:
        return None
    names = [name for name, _ in fields if name not in NOT_AGAIN]
    return SentForm(
        request.get_full_path(),
        [(name, value) for name, values in fields if name in names and not is_secret(name) for value in values],
        [name for name in names if is_secret(name)],
        list(request.FILES),
    )
