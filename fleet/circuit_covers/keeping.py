"""What is computed of a circuit beside its table, as JSON can hold it, and back."""

from fleet.circuit.closing import ClosingSet, Gap
from fleet.circuit.derived import Derived


def shown_to_dict(shown):
    """Return what a circuit shows of its protections, feature code -> Derived, as dictionaries and texts."""
    return {code: {"state": str(each.state), "because": each.because} for code, each in shown.items()}


def shown_from_dict(data):
    """Return what shown_to_dict wrote as feature code -> Derived."""
    return {code: Derived(each["state"], each["because"]) for code, each in data.items()}


def closing_to_dict(closing):
    """Return ClosingSets as lists and texts; an open row that several sets speak of is written once."""
    gaps = list(dict.fromkeys(gap for each in closing for gap in (*each.closed, *each.left, *each.opens)))
    number = {gap: index for index, gap in enumerate(gaps)}

    def numbers(found):
        return [number[gap] for gap in found]

    return {
        "gaps": [list(gap) for gap in gaps],
        "sets": [
            {
                "features": list(each.features),
                "closes": {code: numbers(found) for code, found in each.closes.items()},
                "closed": numbers(each.closed),
                "left": numbers(each.left),
                "opens": numbers(each.opens),
                "can_be_retrofitted": each.can_be_retrofitted,
            }
            for each in closing
        ],
    }


def closing_from_dict(data):
    """Return the ClosingSets that closing_to_dict wrote."""
    gaps = [Gap(*each) for each in data.get("gaps", ())]

    def of(numbers):
        return tuple(gaps[index] for index in numbers)

    return tuple(
        ClosingSet(
            features=tuple(each["features"]),
            closes={code: of(numbers) for code, numbers in each["closes"].items()},
            closed=of(each["closed"]),
            left=of(each["left"]),
            opens=of(each["opens"]),
            can_be_retrofitted=each["can_be_retrofitted"],
        )
        for each in data.get("sets", ())
    )
