"""What a page of a decision showed: written into its form, and compared with what is so when the form is sent."""

from inspections.deciding.grounds import changes_between, read_token, write_token


def shown_grounds(request, about):
    """The grounds that the sent form carried, None if it carried none about this."""
    return read_token(request.POST.get("shown", ""), about)


def grounds_context(request, about, grounds):
    """For the template: the token of what is shown now, and for a form that was sent what changed since it was shown.

    Also a form that was refused for something else says so, since it carries what is so now from here on.
    """
    context = {"shown": write_token(about, grounds), "grounds": grounds}
    if request.method != "POST":
        return context
    shown = shown_grounds(request, about)
    changes = [] if shown is None else changes_between(shown, grounds)
    return {**context, "changes": changes, "has_changed": shown is None or bool(changes)}


def status_of(context, form):
    """409 where what was shown has changed, 422 where the form was refused, else 200."""
    if context.get("has_changed"):
        return 409
    return 422 if form is not None and form.is_bound else 200
