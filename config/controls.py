"""The elements of a page that htmx may treat as controls: only those with the mark of the person who is signed in.

The mark is derived from the key of the installation and the person, so that nobody who enters a text can know the mark
of its readers. It stays the same over sessions, because a page may be older than the login.
"""

import json

from django.utils.crypto import salted_hmac

VERBS = ("get", "post", "put", "patch", "delete", "boost", "ext")


def mark_of(person) -> str:
    """Return the mark of a person's controls; empty before signing in."""
    if not getattr(person, "is_authenticated", False):
        return ""
    return salted_hmac("bobbin.controls", str(person.pk)).hexdigest()[:32]


def htmx_settings(mark: str) -> str:
    """Return htmx's settings as JSON. Elements that match `disableSelector`, and their content, are never processed."""
    unmarked = f':not([data-controls="{mark}"])' if mark else ""
    disabled = [f"[{prefix}hx-{verb}]{unmarked}" for verb in VERBS for prefix in ("", "data-")]
    return json.dumps(
        {
            "allowEval": False,
            "allowScriptTags": False,
            "disableInheritance": True,
            "disableSelector": ", ".join(["[hx-disable]", *disabled]),
            "historyCacheSize": 0,
            "includeIndicatorStyles": False,
            "refreshOnHistoryMiss": True,
            "selfRequestsOnly": True,
        }
    )


def controls(request):
    """Context processor: `controls`, the mark that an htmx control of this page bears, and the settings of htmx."""
    mark = mark_of(getattr(request, "user", None))
    return {"controls": mark, "htmx_settings": htmx_settings(mark)}
