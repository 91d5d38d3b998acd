"""What happens to a large fleet over years, as rows of the lists that the other measured rows leave empty.

    BENCH_FOLDER=/big python -m tests.benchmarks.event_rows

Written outside of actions, as the multiplied machines are. It adds nothing where there are notices already.
"""

from datetime import timedelta
from itertools import islice

from tests.benchmarks.databases import set_up

NOTICES, ITEMS, OPEN_NOTICES = 500, 200, 40
ATTEMPTED, AWAY_NOW, AWAY_BEFORE = 8_000, 2_000, 20_000
REPORTS, WAITING, FORECASTS, JOBS = 50_000, 300, 20_000, 2_000
BATCH = 2_000


def main():
    set_up()
    from django.db import transaction
    from django.utils import timezone

    from fleet.models import Machine, Person
    from inspections.kept_counts.counts import fill_counts
    from inspections.models import SafetyNotice

    if SafetyNotice.objects.exists():
        return
    now = timezone.now()
    machines = list(Machine.objects.order_by("pk").values_list("pk", flat=True))
    person = Person.objects.get(username="planner")
    with transaction.atomic():
        for rows in (_notices(machines, now), _attempts(person, now), _away(machines, now), _forecasts(now)):
            _insert(rows)
        for rows in (_reports(machines, person, now), _jobs(person, now)):
            _insert(rows)
    fill_counts(at=now)


def _insert(rows):
    for first in rows:
        batch = [first, *islice((row for row in rows if type(row) is type(first)), BATCH - 1)]
        type(first).objects.bulk_create(batch)


def _notices(machines, now):
    """Notices, each about machines of the whole fleet; all but the newest are closed and settled."""
    from inspections.models import NoticeItem, SafetyNotice

    notices = SafetyNotice.objects.bulk_create(
        SafetyNotice(
            published_by=f"Works {n % 20}", reference=f"N-{n:04}", title=f"Notice {n} about a regulator",
            published_on=now.date() - timedelta(days=3 * n), received_on=now.date() - timedelta(days=3 * n - 1),
            answer_by=now.date() + timedelta(days=30 - n), entered_at=now - timedelta(days=3 * n),
            closed_at=now if n >= OPEN_NOTICES else None, closing_note="Done" if n >= OPEN_NOTICES else "",
        )
        for n in range(NOTICES)
    )  # fmt: skip
    step = len(machines) // ITEMS
    for n, notice in enumerate(notices):
        settled = {"state": "done", "words": "Looked at", "settled_at": now} if n >= OPEN_NOTICES else {}
        for machine in machines[n % step :: step][:ITEMS]:
            yield NoticeItem(notice=notice, machine_id=machine, match="concerned", found_at=now, **settled)


def _attempts(person, now):
    from inspections.models import Attempt, Inspection

    rows = Inspection.objects.open().order_by("due_on", "pk").values_list("pk", flat=True)
    for n, inspection in enumerate(rows[:ATTEMPTED]):
        for times in range(1 + n % 3):
            made_on = now.date() - timedelta(days=1 + times)
            yield Attempt(inspection_id=inspection, kind="in use", made_on=made_on, by=person, at=now)


def _away(machines, now):
    from fleet.models import AwayPeriod

    for n in range(AWAY_BEFORE + AWAY_NOW):
        begun = now.date() - timedelta(days=20 + n % 900)
        is_over = n < AWAY_BEFORE
        yield AwayPeriod(
            machine_id=machines[n], kind="lent", to_whom=f"Hospital {n % 30}", reason="Asked for", from_date=begun,
            expected_on=begun + timedelta(days=14 + n % 30), at=now,
            returned_on=begun + timedelta(days=14) if is_over else None, returned_at=now if is_over else None,
        )  # fmt: skip


def _forecasts(now):
    from inspections.models import Result, TrendForecast

    numbers = ("value", "lower", "upper", "slope", "slope_lower", "slope_upper", "drift_share", "machine_share")
    latest = Result.objects.exclude(value=None).order_by("-pk").select_related("step__inspection")
    seen = set()
    for n, one in enumerate(latest[: 2 * FORECASTS].iterator()):
        of = (one.step.inspection.machine_id, one.step.test_code, one.step.subject, one.key)
        if of in seen or len(seen) == FORECASTS:
            continue
        seen.add(of)
        yield TrendForecast(
            machine_id=of[0], test_code=of[1], subject=of[2], key=of[3], latest=one, results=3, due_on=now.date(),
            beyond_on=now.date(), chance=n % 100 / 100, advice="come earlier" if n % 10 == 0 else "nothing",
            terms={}, made_at=now, measured_share=0.5, **dict.fromkeys(numbers, 1.0),
        )  # fmt: skip


def _reports(machines, person, now):
    from fleet.models import Machine
    from inspections.models import FaultReport, MachineLabel

    labels = MachineLabel.objects.bulk_create(
        MachineLabel(machine=machine, issued_at=now) for machine in Machine.objects.filter(pk__in=machines[-1_000:])
    )
    for n in range(REPORTS):
        label, settled = labels[n % len(labels)], n >= WAITING
        said = {"state": "dismissed", "reason": "Nothing found", "settled_at": now, "settled_by": person}
        yield FaultReport(
            machine_id=label.machine_id, label=label, what=f"Flow {n} sticks", where="Theatre 1", who="A nurse",
            key=f"bench-{n}", reported_at=now - timedelta(minutes=7 * n), **(said if settled else {}),
        )  # fmt: skip


def _jobs(person, now):
    from fleet.models import Job

    for n in range(JOBS):
        asked = now - timedelta(minutes=n)
        yield Job(
            kind="record-papers", title=f"{n} records as PDF", key=f"bench {n}", by=person, asked_at=asked,
            stage="done", finished_at=asked, result=f"{n} records written.",
        )  # fmt: skip


if __name__ == "__main__":
    main()
