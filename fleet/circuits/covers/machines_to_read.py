"""Which machines the covers are computed of: those of which anything may have changed, found without reading a machine.

The journal names every row that an action wrote, so it tells which machines have other records than at the last night.
"""

from collections.abc import Iterable

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Exists, OuterRef, Q

from fleet.acting.scope import settle
from fleet.circuits.covers.program_digest import record_rules, rules
from fleet.extensions import models_of_measurements
from fleet.models import (
    CircuitReading,
    Component,
    Connection,
    FeatureState,
    JournalEntry,
    JournalHead,
    JournalLink,
    Machine,
    MachineCover,
    MachineModel,
    Site,
)

# The machines that a written row concerns, by its model
OF_MODEL = {Machine: "pk", MachineModel: "model", Site: "area__site"}
OF_MACHINE = (Component, Connection, FeatureState)
DATED = {Component: ("fitted_on", "removed_on"), Connection: ("fitted_on", "removed_on"),
         FeatureState: ("from_date", "until_date")}  # fmt: skip
AT_ONCE = 500


def place_in_journal() -> int:
    """Return the number of the newest link of the journal, after what the open action wrote so far."""
    settle(DEFAULT_DB_ALIAS)
    return JournalHead.objects.values_list("sequence", flat=True).first() or 0


def to_read(machines, today) -> list[int]:
    """Return the keys of those machines whose cover may not be that of today, by asset number.

    A machine is passed over if it has a cover of this program and, since all of them were read, nothing was written on
    which its circuit rests and none of its records began or ended.
    """
    read = CircuitReading.objects.filter(rules=record_rules(), sequence__lte=place_in_journal()).first()
    if read is None or read.day > today or _was_removed(read.sequence):
        return list(machines.order_by("asset_number").values_list("pk", flat=True))
    lacking = Q(circuit_cover=None) | (Q(circuit_cover__cover__isnull=False) & ~Q(circuit_cover__cover__rules=rules()))
    found, changed = set(_named(machines.filter(lacking))), sorted(_changed(read, today))
    for first in range(0, len(changed), AT_ONCE):
        found.update(_named(machines.filter(pk__in=changed[first : first + AT_ONCE])))
    return [pk for _, pk in sorted(found)]


def _named(machines):
    return machines.order_by().values_list("asset_number", "pk")


def _changed(read, today) -> set[int]:
    """Return the keys of the machines on whose records anything was written, began or ended since they were read."""
    found = set()
    for model, path in OF_MODEL.items():
        of_rows = Machine.objects.filter(**{f"{path}__in": _written(model, read.sequence)})
        found.update(of_rows.order_by().values_list("pk", flat=True))
    rows = [model.objects.filter(pk__in=_written(model, read.sequence)) for model in _of_machine()]
    rows += [model.objects.filter(_turns(days, read.day, today)) for model, days in DATED.items()]
    for of_machine in rows:
        found.update(of_machine.order_by().values_list("machine", flat=True).distinct())
    return found


def note_read(sequence, today, at):
    """Note that the covers of all machines are those of their records up to a link of the journal."""
    fields = {"sequence": sequence, "day": today, "rules": record_rules(), "read_at": at}
    CircuitReading.objects.update_or_create(pk=1, defaults=fields)


def confirm(machines, at):
    """Say of the covers of those machines that were passed over that they are those of today; one query a site."""
    for site in Site.objects.filter(Exists(machines.filter(area__site=OuterRef("pk")))):
        covers = MachineCover.objects.of_machines(machines.filter(area__site=site)).filter(computed_at__lt=at)
        covers.update(on=site.date_of(at), computed_at=at)


def _written(model, sequence):
    """Return the keys of the rows of a model that were written after a link of the journal."""
    later = JournalLink.objects.filter(sequence__gt=sequence).order_by()
    entries = JournalEntry.objects.filter(batch__in=later.values("batch"), table=model._meta.db_table)
    return entries.order_by().values("row")


def _was_removed(sequence) -> bool:
    """Return whether a row was removed that named a machine: nothing then tells which one."""
    tables = [model._meta.db_table for model in _of_machine()]
    later = JournalLink.objects.filter(sequence__gt=sequence).order_by()
    return JournalEntry.objects.filter(batch__in=later.values("batch"), table__in=tables, state="").exists()


def _of_machine():
    return (*OF_MACHINE, *models_of_measurements())


def _turns(days: Iterable[str], last, today):
    """Return the condition that a row begins or ends after one day, until another."""
    found = Q()
    for day in days:
        found |= Q(**{f"{day}__gt": last, f"{day}__lte": today})
    return found
