"""The reading that somebody saw before changing it: sent with the change, so that two people cannot undo each other."""

NOT_TOLD = object()  # the caller does not say what was seen: the change is made all the same


def seen_reading(data, name):
    """The key of the reading that a form showed in the place `name`, None for an empty place, else NOT_TOLD."""
    text = data.get(f"{name}:kept")
    if text is None:
        return NOT_TOLD
    return int(text) if text.isascii() and text.isdigit() else None
