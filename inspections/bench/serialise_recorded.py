"""What the records say of the site's oxygen and of the machine's ventilator, as plain dictionaries."""

from collections.abc import Mapping

from fleet.catalogue.oxygen_supply import OxygenGrade, SuppliedOxygen, percent_problem

from .declarations import Context
from .errors import BenchError
from .json_shapes import mapping, number, only
from .json_text import shown

VENTILATORS = ("", "bellows", "hanging bellows", "piston")
"""What a component of the kind "ventilator" may be recorded as; empty where that is not known."""


def oxygen_to_dict(oxygen: SuppliedOxygen) -> dict:
    """Return {"grade", "percent"}; the percentage is null where none is stated."""
    return {"grade": str(oxygen.grade), "percent": oxygen.percent}


def oxygen_from_dict(data: Mapping, where: str = "context.oxygen") -> SuppliedOxygen:
    """Return the oxygen of {"grade", "percent"}, of which each may be left out."""
    data = only(mapping(data, where), ("grade", "percent"), where)
    grade, percent = data.get("grade", str(OxygenGrade.OXYGEN)), data.get("percent")
    if grade not in tuple(OxygenGrade):
        raise BenchError(f"{where}.grade", f"{where}.grade: one of {', '.join(OxygenGrade)}, got {shown(grade)}.")
    percent = None if percent is None else number(percent, f"{where}.percent")
    if problem := percent_problem(grade, percent):
        raise BenchError(f"{where}.percent", f"{where}.percent: {problem}")
    return SuppliedOxygen(OxygenGrade(grade), percent)


def recorded_to_dict(context: Context) -> dict:
    """Return what of the two differs from what is taken without it: contexts of before keep their shape."""
    oxygen = {} if context.oxygen == SuppliedOxygen() else {"oxygen": oxygen_to_dict(context.oxygen)}
    return oxygen | ({"ventilator": context.ventilator} if context.ventilator else {})


def recorded_from_dict(data: Mapping) -> dict:
    """Return the two fields of a Context, as far as they are given."""
    found = {"oxygen": oxygen_from_dict(data["oxygen"])} if data.get("oxygen") is not None else {}
    ventilator = data.get("ventilator") or ""
    if ventilator not in VENTILATORS:
        known = ", ".join(VENTILATORS[1:])
        raise BenchError("context.ventilator", f"context.ventilator: one of {known}, got {shown(ventilator)}.")
    return found | {"ventilator": ventilator}
