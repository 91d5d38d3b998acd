"""Which procedures the invented department plans where, and how long some components last. All of it is invented."""

from fleet.models import Area, MachineModel
from inspections.actions import add_planning_rule, set_component_life
from inspections.models import Procedure

AREA, MODEL = "Main theatres", "Octavo"
POLICY = {"source": "policy", "reference": "Equipment policy of the invented department, edition 3, page 4"}
LIFE_OF_BATTERY = 48  # months; invented for the demonstration


def tell_rules(write, *, by, today, at):
    """Add a few rules and the life of a component, and print how many planned inspections moved or ended."""
    ended = 0
    for code, fields in _rules():
        said = {**POLICY, **fields, "from_date": today, "by": by, "at": at}
        _, moved = add_planning_rule(procedure=Procedure.objects.get(code=code), **said)
        ended += moved.ended
    model = MachineModel.objects.filter(name=MODEL).first()
    life = {
        "kind": "battery",
        "machine_model": model,
        "life": LIFE_OF_BATTERY,
        "unit": "months",
        "reason": "Capacity falls with age",
    }
    set_component_life(**POLICY, **life, from_date=today, by=by, at=at)
    write(f"Rules        {len(_rules())} planning rules; {ended} half-yearly inspections end, planned in {AREA} only")


def _rules():
    area = Area.objects.filter(name=AREA).order_by("pk").first()
    return [
        (
            "weekly",
            {"reach": "feature", "target": "o2-supply-alarm", "interval_days": 7, "window_days": 2, "minutes": 20,
             "reason": "The oxygen supply alarm fails unnoticed; it is tried every week where there is one"},
        ),
        (
            "half-yearly",
            {"reach": "area", "target": area, "interval_months": 6, "window_days": 21,
             "reason": "These theatres run every day and at night"},
        ),
        (
            "half-yearly",
            {"reach": "all", "is_planned": False, "reason": "Elsewhere the yearly inspection is enough"},
        ),
        (
            "daily",
            {"reach": "all", "is_planned": False,
             "reason": "The users do it at the start of a list and record it by the label of the machine"},
        ),
    ]  # fmt: skip
