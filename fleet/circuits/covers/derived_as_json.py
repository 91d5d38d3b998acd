"""What a circuit shows of its protections, as JSON can hold it, and back."""

from fleet.circuit.derived_features import Derived


def shown_to_dict(shown):
    """Return what a circuit shows of its protections, feature code -> Derived, as dictionaries and texts."""
    return {code: {"state": str(each.state), "because": each.because} for code, each in shown.items()}


def shown_from_dict(data):
    """Return what shown_to_dict wrote as feature code -> Derived."""
    return {code: Derived(each["state"], each["because"]) for code, each in data.items()}
