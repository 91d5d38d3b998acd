"""What is computed of a circuit beside its table, as JSON can hold it, and back."""


def shown_to_dict(shown):
    """Return what a circuit shows of its protections, feature code -> Derived, as dictionaries and texts."""
    return {code: {"state": str(each.state), "because": each.because} for code, each in shown.items()}


def shown_from_dict(data):
    """Return what shown_to_dict wrote as feature code -> Derived."""
    from fleet.circuit.derived import Derived

    return {code: Derived(each["state"], each["because"]) for code, each in data.items()}


def closing_to_dict(closing):
    return {"sets": [], "never": []}
