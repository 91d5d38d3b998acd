"""The yearly inspections of one machine of the demonstration, with readings as a technician takes them from dials.

The simulated machine and its gauges are those of the demonstration. A pressure is read to a whole psi or a tenth of a
kPa, a flow and a fraction to two figures, as far as a person reads a pointer or a bobbin.
"""

from datetime import UTC, datetime, time

from config.demo.habits import NO_TEST_LUNG
from config.demo.history import History, why_not_tested
from fleet.models import Machine, Person
from inspections.actions import enter_reading, open_inspection, plan_inspection, set_not_tested, sign_inspection
from inspections.actions import void_inspection as void
from inspections.at_bench.reading_entry import entry_at
from inspections.at_bench.slots import find_slot
from inspections.at_bench.units_here import unit_of
from inspections.bench import from_si
from inspections.models import Inspection, Procedure


def machine_of(asset_number):
    return Machine.objects.with_place().get(asset_number=asset_number)


class DialHistory(History):
    """Inspections of single machines; `read` says what a technician reads in each step on a day."""

    def __init__(self, today):
        super().__init__({person.username: person for person in Person.objects.all()}, today)

    def read(self, inspection, day):
        """Return for each step that is tested what is read, as arguments of `entry_at`; None for what is not tested."""
        simulator, truth = self._simulator(inspection.machine.site), self.truths[inspection.machine_id]
        found = {}
        for step in inspection.steps.that_apply().select_related("inspection", "component"):
            if why_not_tested(step, truth, ""):
                found[step] = None
                continue
            entries = simulator.entries(step, truth, day)
            found[step] = _on_dials(step, entries, [simulator.read(step, entry) for entry in entries])
        return found

    def do(self, inspection, day):
        """Do and sign an inspection on a day."""
        technician, at = self._technician_for(inspection.machine), datetime.combine(day, time(9), tzinfo=UTC)
        open_inspection(inspection, by=technician, at=at)
        for step, readings in self.read(inspection, day).items():
            if readings is None:
                set_not_tested(step, reason=NO_TEST_LUNG, by=technician, at=at)
            for sent in readings or ():
                enter_reading(step, entry_at(step, **sent), by=technician, at=at)
        sign_inspection(inspection, by=technician, at=at)

    def plan(self, machine, day):
        """Plan a yearly inspection in place of every one that is open."""
        at = datetime.combine(day, time(7), tzinfo=UTC)
        planner = self.people["planner"]
        for one in Inspection.objects.open().filter(machine=machine):
            void(one, reason="Replaced.", by=planner, at=at, although_in_progress=True)
        return plan_inspection(machine, Procedure.objects.get(code="yearly"), due_on=day, by=planner, at=at)


def _on_dials(step, entries, sent):
    """Every reading of a column in the unit in which the page starts, on the instrument that reaches the highest.

    A technician reads the scale of the dial that has this unit, and types the number alone.
    """
    highest, found = _highest_of_columns(entries, sent), []
    for entry, one in zip(entries, sent, strict=True):
        if entry.word:
            found.append(one)
            continue
        column = highest[one["field"], one["column"]]
        column = {**column, "unit": _unit_on_page(step, column)}
        value = from_si(entry.value, column["unit"])
        figure = f"{value:.1f}" if entry.own else _figure(value, column["unit"])
        found.append({**one, "as_read": _trimmed(figure), "unit": column["unit"]}
                     | ({"instrument": column["instrument"]} if "instrument" in column else {}))  # fmt: skip
    return found


def _highest_of_columns(entries, sent):
    """Map field and column to what is sent of their highest reading."""
    read = [(entry, one) for entry, one in zip(entries, sent, strict=True) if not entry.word]
    return {(one["field"], one["column"]): one for entry, one in sorted(read, key=lambda pair: pair[0].value)}


def _unit_on_page(step, sent):
    slot = find_slot(step, sent["field"], sent["row"], sent["column"])
    return unit_of(slot, step.inspection.units, step.inspection.machine.site.place_format)


def _figure(value, unit):
    if unit in ("psi", "s"):
        return f"{value:.0f}"
    if unit in ("kPa", "%"):
        return f"{value:.1f}"
    return f"{float(f'{value:.2g}'):.4f}"


def _trimmed(figure):
    text = figure.rstrip("0").rstrip(".") if "." in figure else figure
    return "0" if text in ("-0", "") else text
