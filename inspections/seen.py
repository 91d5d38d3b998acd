"""What somebody saw standing before changing it: told with the change, so that two people cannot undo each other."""

NOT_TOLD = object()  # the caller does not say what was seen: the change is made all the same
