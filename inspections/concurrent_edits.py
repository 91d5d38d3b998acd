"""The reading that somebody saw before changing it: sent with the change, so that two people cannot undo each other."""

NOT_TOLD = object()  # the caller does not say what was seen: the change is made all the same
