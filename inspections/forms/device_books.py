"""Which machines of a list are ticked."""


def ticked_machines(machines, values):
    """Keep the machines whose keys were ticked; all of them if none was."""
    keys = {int(value) for value in values if value.isascii() and value.isdigit() and len(value) < 18}
    return machines.filter(pk__in=keys) if keys else machines
