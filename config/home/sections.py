"""The sections of Home, one per group. Each needs a fixed number of queries."""

from datetime import timedelta

from django.urls import reverse

from config.home.account_sections import chief_part, own_part
from config.home.away_machines import away_overdue_item
from config.home.fault_reports import untriaged_item
from config.home.intervals import withdrawn_intervals_item
from config.home.items import SHOWN, Item, Part, listed
from config.home.notices import incidents_item, notices_item
from fleet.cover_report import shortlists
from fleet.days import day_of_year
from fleet.models import Evidence, FeatureState, Instrument, Machine
from inspections.at_bench.limit_texts import result_text
from inspections.models import Finding, Inspection, Proposal
from inspections.schedule.area_minimums import areas_with_minimum_of, shortfalls
from inspections.schedule.recent_work import (
    recently_amended,
    recently_set_limits,
    recently_signed,
    recently_voided,
    start_of,
)

DAYS = 30
WORK = ("machine", "procedure")


def home_parts(person, groups, now, today):
    """Return the sections for the groups that `person` belongs to, by name, in the order of the day's work."""
    builders = {
        "technician": technician_part,
        "planner": planner_part,
        "manager": manager_part,
        "auditor": auditor_part,
        "planner-in-chief": chief_part,
    }
    return own_part(person) + [make(person, now, today) for name, make in builders.items() if name in groups]


def planner_part(person, now, today):
    """Return what is late, what is not booked yet, and what somebody must decide."""
    work = Inspection.objects.visible_to(person)
    areas = areas_with_minimum_of(person)
    items = (
        _proposals(person),
        _overdue(work, today),
        listed(
            work.coming(today, DAYS).planned(),
            f"inspection falls due within {DAYS} days and is not booked",
            f"inspections fall due within {DAYS} days and are not booked",
            _work,
            related=WORK,
            url=_to("inspections:work", view="due", stage="planned"),
            label="Book",
        ),
        untriaged_item(person, now),
        notices_item(person, today),
        _awaiting_withdrawal(person),
        _withdrawn(person),
        away_overdue_item(person, today),
        withdrawn_intervals_item(now),
        _areas_below(areas),
        _areas_left_short(areas, today),
        _instruments(person, today, "out", "cannot be used: out of calibration", urgent=True),
        _instruments(person, today, "soon", f"is due for calibration within {DAYS} days"),
    )
    return Part("Planner", items)


def technician_part(person, now, today):
    """Return what is booked for this person, and what waits for any technician."""
    work = Inspection.objects.visible_to(person)
    own = work.for_technician(person)
    retests = work.retesting().not_begun()
    items = (
        _proposals(person),
        listed(
            own.booked().filter(booked_on__lte=today),
            "inspection booked for you is due by today",
            "inspections booked for you are due by today",
            _work,
            related=WORK,
            url=_to("inspections:work", view="booked", technician=person.pk, until=today),
        ),
        listed(
            own.in_progress(), "inspection in progress, not signed", "inspections in progress, not signed",
            _bench, related=WORK, url=_to("inspections:work", view="bench", technician=person.pk), label="Continue",
        ),
        listed(retests, "retest is not started", "retests are not started", _work, related=WORK),
        _withdrawn(person),
        listed(
            work.awaiting_countersignature().not_signed_by(person),
            "signed inspection awaits a second signature, which you can confirm",
            "signed inspections await a second signature, which you can confirm",
            _work,
            related=WORK,
            url=_to("inspections:work", view="countersign"),
        ),
    )  # fmt: skip
    return Part("Technician", items)


def manager_part(person, now, today):
    """Return where the fleet is short of machines or lacks a safety feature, and what is dangerous."""
    essential = Finding.objects.visible_to(person).open().essential()
    items = (
        listed(
            essential,
            "essential finding is open",
            "essential findings are open",
            _finding,
            related=("machine",),
            url=_to("inspections:findings", severity="essential"),
            urgent=True,
        ),
        notices_item(person, today),
        incidents_item(person),
        _withdrawn(person),
        _areas_below(areas_with_minimum_of(person)),
        *_cover_gaps(person, today),
    )
    links = (("Cover report: every machine and every safety feature", reverse("fleet:cover")),)
    return Part("Manager", items, links=links, later=reverse("home_retirement"))


def auditor_part(person, now, today):
    """Return what was recorded, corrected and set lately."""
    first_day = today - timedelta(days=DAYS)
    since = start_of(first_day)
    features = FeatureState.objects.visible_to(person).filter(recorded_at__gte=since)
    features = features.exclude(evidence=Evidence.MODEL_DEFAULT)
    items = (
        listed(
            recently_signed(person, since), "record was signed", "records were signed", _work, related=WORK,
            url=_to("inspections:work", view="signed", since=first_day),
        ),
        listed(recently_amended(person, since), "amendment was made", "amendments were made", _amendment),
        listed(
            recently_voided(person, since), "inspection was voided", "inspections were voided", _work, related=WORK,
            url=_to("inspections:work", view="void", since=first_day),
        ),
        listed(
            recently_set_limits(person, since), "local limit was set", "local limits were set", _limit,
            url=_to("inspections:limits", since=first_day),
        ),
        listed(
            features.order_by("-recorded_at", "-pk"),
            "safety feature of a machine was recorded",
            "safety features of machines were recorded",
            _feature,
            related=("machine",),
        ),
    )  # fmt: skip
    return Part("Auditor", items, note=f"In the last {DAYS} days, newest first.")


def _proposals(person):
    return listed(
        Proposal.objects.confirmable_by(person),
        "decision waits for a second person: you can confirm it",
        "decisions wait for a second person: you can confirm them",
        lambda proposal: (str(proposal), proposal.get_absolute_url()),
        few=True,
        urgent=True,
    )


def _overdue(work, today):
    return listed(
        work.overdue(today),
        "inspection is overdue",
        "inspections are overdue",
        _work,
        related=WORK,
        url=_to("inspections:work", view="overdue"),
        urgent=True,
    )


def _awaiting_withdrawal(person):
    return listed(
        Finding.objects.visible_to(person).awaiting_withdrawal(),
        "essential finding on a machine in service: decide about withdrawal",
        "essential findings on machines in service: decide about withdrawal",
        _finding,
        related=("machine",),
        url=_to("inspections:findings", view="withdrawal"),
        label="Decide",
        urgent=True,
    )


def _withdrawn(person):
    return listed(
        Machine.objects.visible_to(person).withdrawn(),
        "machine is withdrawn from use and needs a retest that passes",
        "machines are withdrawn from use and need a retest that passes",
        lambda machine: (str(machine), reverse("inspections:release", args=[machine.pk])),
        related=(),
        url=_to("fleet:machines", status="withdrawn"),
    )


def _areas_below(areas):
    below = [area for area in areas if area.in_service < area.minimum_machines]
    one = "area has fewer machines in service than its minimum"
    many = "areas have fewer machines in service than their minimum"
    shown = below[:SHOWN]
    examples = ((f"{area}: {area.in_service} of {area.minimum_machines}", area.get_absolute_url()) for area in shown)
    return Item(len(below), one if len(below) == 1 else many, examples=tuple(examples), urgent=True)


def _areas_left_short(areas, today):
    found = shortfalls(areas, today, today + timedelta(days=DAYS))
    examples = tuple(
        (
            f"{one.area} on {day_of_year(one.day)}",
            _to("inspections:work", view="booked", area=one.area.pk, week=one.day),
        )
        for one in found[:SHOWN]
    )
    text = "leaves an area below its minimum because of bookings" if len(found) == 1 else (
        "leave an area below its minimum because of bookings"
    )  # fmt: skip
    days = "day" if len(found) == 1 else "days"
    return Item(len(found), f"{days} in the next {DAYS} {text}", examples=examples, urgent=True)


def _instruments(person, today, standing, says, urgent=False):
    instruments = Instrument.objects.visible_to(person).usable().in_standing(standing, today)
    many = says.replace("is due", "are due")
    return listed(
        instruments.order_by("due_on", "pk"),
        f"instrument {says}",
        f"instruments {many}",
        lambda instrument: (instrument.code, instrument.get_absolute_url()),
        related=(),
        few=True,
        url=_to("fleet:instruments", calibration=standing),
        urgent=urgent,
    )


def _cover_gaps(person, today):
    """Return items that link to the lists of machines that lack a safety feature."""
    for one in shortlists(person, today):
        machines = "machine" if one.machines == 1 else "machines"
        text = f"{machines} in the cover report’s list “{one.label}”"
        yield Item(one.machines, text, _to("fleet:cover", **one.query) if one.machines else "", "Show")


def _to(name, **query):
    return reverse(name, query=query)


def _work(inspection):
    return f"{inspection.machine}, {inspection.procedure}", inspection.get_absolute_url()


def _bench(inspection):
    return f"{inspection.machine}, {inspection.procedure}", reverse("inspections:bench", args=[inspection.pk])


def _finding(finding):
    return f"{finding.machine}: {finding}", finding.get_absolute_url()


def _amendment(amendment):
    return f"{amendment.inspection} of {amendment.inspection.machine}", amendment.inspection.get_absolute_url()


def _limit(limit):
    test, result = result_text(limit.test_code, limit.result_key)
    return f"{test}, {result.lower()}: {limit.machine_model or limit.site}", reverse("inspections:limits")


def _feature(row):
    return f"{row.machine}: {row.catalogue_entry.name}, {row.state}", row.machine.get_absolute_url()
