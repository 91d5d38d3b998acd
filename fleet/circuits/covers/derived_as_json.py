"""Converts the safety features that a circuit shows to JSON data and back."""

from fleet.circuit.derived_features import Derived


def shown_to_dict(shown):
    """Return the safety features that a circuit shows, feature code -> Derived, as dictionaries and texts."""
    return {code: {"state": str(each.state), "because": each.because} for code, each in shown.items()}


def shown_from_dict(data):
    """Return the data of shown_to_dict as feature code -> Derived."""
    return {code: Derived(each["state"], each["because"]) for code, each in data.items()}
