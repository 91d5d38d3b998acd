"""Where machines were before areas had periods: from the changes of their entries, else where they are now.

Written out in full, so that later changes of the code leave it alone.
"""

from collections import defaultdict
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

from django.db import migrations

AT_ONCE = 500
LABEL, NAME = "Area", "Name"  # of the fields, as entries name them
CHANGED = "From the changes of the entry"
PRESENT = "The area when periods were first recorded; nothing earlier is known"


def fill(apps, schema_editor):
    """Begin with the present area, and go back through the entries as far as their words name a known area."""
    alias = schema_editor.connection.alias
    machines = apps.get_model("fleet", "Machine").objects.using(alias).order_by("pk")
    rows = machines.values_list("pk", "area", "in_use_from", "area__site__time_zone")
    known, batch = None, []
    for row in rows.iterator(chunk_size=AT_ONCE):
        known = _areas_by_words(apps, alias) if known is None else known
        batch.append(row)
        if len(batch) == AT_ONCE:
            _fill_batch(apps, alias, batch, known)
            batch = []
    if batch:
        _fill_batch(apps, alias, batch, known)


def _areas_by_words(apps, alias):
    """Map “area, site” to the key of the area, under present and former names; words of two areas map to none."""
    former = {kind: defaultdict(set) for kind in ("area", "site")}
    entries = apps.get_model("fleet", "ChangeEntry").objects.using(alias).filter(record__in=tuple(former))
    for kind, pk, row, before in entries.values_list("record", "record_pk", "row", "before").iterator():
        if row == f"fleet.{kind}" and isinstance(before.get(NAME), str):
            former[kind][pk].add(before[NAME])
    found = defaultdict(set)
    areas = apps.get_model("fleet", "Area").objects.using(alias)
    for pk, name, site, site_name in areas.values_list("pk", "name", "site", "site__name"):
        for own in {name, *former["area"][pk]}:
            for of_site in {site_name, *former["site"][site]}:
                found[f"{own}, {of_site}"].add(pk)
    return {words: pks.pop() for words, pks in found.items() if len(pks) == 1}


def _fill_batch(apps, alias, batch, known):
    entries = apps.get_model("fleet", "ChangeEntry").objects.using(alias)
    changes = defaultdict(list)
    of_machines = entries.filter(record="machine", row="fleet.machine", record_pk__in=[row[0] for row in batch])
    for pk, at, by, before, after in of_machines.order_by("at", "pk").values_list(
        "record_pk", "at", "by", "before", "after"
    ):
        if before.get(LABEL) and after.get(LABEL):
            changes[pk].append((at, by, before[LABEL], after[LABEL]))
    Period = apps.get_model("fleet", "AreaPeriod")
    Period.objects.using(alias).bulk_create(
        (Period(**fields) for row in batch for fields in _periods(row, changes[row[0]], known)), batch_size=AT_ONCE
    )


def _periods(row, changes, known):
    """Yield the fields of the periods of a machine, the newest first."""
    machine, area, first, zone = row
    now = changes[-1][0] if changes else None
    until = None
    for at, by, before, after in reversed(changes):
        day = at.astimezone(ZoneInfo(zone)).date()
        if day <= first or known.get(after) != area or before not in known:
            break
        if until is None or day < until:  # of several changes on one day the last one counts
            yield _fields(machine, area, day, until, CHANGED, by, at)
            until = day
        area = known[before]
    yield _fields(machine, area, first, until, PRESENT if until is None else CHANGED, None, now or _start(first))


def _fields(machine, area, day, until, evidence, by, at):
    return {
        "machine_id": machine, "area_id": area, "from_date": day, "until_date": until, "evidence": evidence,
        "by_id": by, "recorded_at": at,
    }  # fmt: skip


def _start(day):
    return datetime.combine(day, time(), UTC)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0041_area_periods")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
