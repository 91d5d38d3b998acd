"""Sections that another app adds to the machine page, since the fleet imports no other app.

A panel is a function of the request and the machine that returns a template name and its context.
"""

_panels = []


def register_machine_panel(panel):
    """Add a panel below the register's own sections; called once, from an AppConfig's `ready`."""
    if panel not in _panels:
        _panels.append(panel)


def machine_panels(request, machine):
    """Return (template name, context) of every panel for this machine."""
    return [panel(request, machine) for panel in _panels]
