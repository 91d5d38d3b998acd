"""Carry out a decision of a form, or propose it, and say on the page what came of it."""

from django.contrib import messages
from django.utils import timezone

from inspections.errors import GroundsChanged, Refused
from inspections.proposals import decide

REFUSED = object()


def decide_or_say(request, form, act, *, reason, shown):
    """Return the proposal that was made, None if it was done at once, REFUSED with the reasons in the form."""
    try:
        proposal = decide(act, reason=reason, by=request.user, at=timezone.now(), shown=shown)
    except GroundsChanged:
        return REFUSED  # the page says what changed
    except Refused as error:
        for sentence in getattr(error, "reasons", [str(error)]):
            form.add_error(None, sentence)
        return REFUSED
    if proposal:
        messages.success(request, f"Proposed: {proposal}. Nothing changes until another person confirms it.")
    return proposal
