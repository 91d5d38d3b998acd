"""The life of a machine by the register: status, places, handover, instruction, equipment, circuit, components."""

from django.db.models import Q
from django.utils import timezone

from fleet.models import (
    CircuitChange,
    Component,
    EarlierInspection,
    FeatureState,
    SoftwareVersion,
    StatusChange,
    UserInstruction,
)
from fleet.web.at_site import day_words
from inspections.device_book.sections import Column, Table
from inspections.models import Competence, Inspection, UserCheck

HANDOVER = "acceptance"
STATUS = Table(
    "status", "Status", (
        Column("day", "Day", 0.14, "day"), Column("status", "Status", 0.17), Column("reason", "Reason", 0.33),
        Column("evidence", "Evidence", 0.18), Column("by", "By", 0.18),
    ), "No change of status is recorded.",
)  # fmt: skip
PLACES = Table(
    "places", "Where it was used", (
        Column("from", "From", 0.14, "day"), Column("until", "Until", 0.14, "day"), Column("area", "Area", 0.3),
        Column("evidence", "Evidence", 0.24), Column("by", "By", 0.18),
    ), "No area is recorded.", "“Until” is the first day in the next area.",
)  # fmt: skip
LOANS = Table(
    "loans", "Loans and outside repairs", (
        Column("from", "From", 0.13, "day"), Column("returned", "Back on", 0.13, "day"), Column("to", "To whom", 0.24),
        Column("reason", "Reason", 0.26), Column("condition", "Condition on return", 0.24),
    ), "It was never recorded as away.",
)  # fmt: skip
HANDOVERS = Table(
    "handover", "Handover and first use", (
        Column("day", "Day", 0.14, "day"), Column("what", "What", 0.36), Column("result", "Result", 0.25),
        Column("by", "By", 0.25),
    ), "No acceptance and no first-user check is recorded. Attach the record of the handover to the machine.",
)  # fmt: skip
INSTRUCTED = Table(
    "instructed", "Technicians instructed", (
        Column("person", "Person", 0.2), Column("subject", "For", 0.24), Column("evidence", "Evidence", 0.22),
        Column("last_day", "Valid until", 0.12, "day"), Column("confirmed", "Confirmed by", 0.22),
    ), "No competence for this model or its manufacturer is recorded.",
    "Technicians whose competence was confirmed for the model or for its manufacturer.",
)  # fmt: skip
USERS = Table(
    "users", "Users instructed", (
        Column("name", "Person", 0.17), Column("on", "On", 0.18), Column("held_on", "Day", 0.11, "day"),
        Column("instructor", "By", 0.16), Column("topics", "Topics", 0.27), Column("until", "Valid until", 0.11, "day"),
    ), "No instruction of a user is recorded. Enter it on the page “Software and users”, or attach the lists.",
    "On the machine, or on its model in an area in which it is or was.",
)  # fmt: skip
SOFTWARE = Table(
    "software", "Software", (
        Column("part", "Software of", 0.2), Column("version", "Version", 0.16), Column("day", "Installed or read", 0.14,
        "day"), Column("source", "Source", 0.32), Column("by", "Recorded by", 0.18),
    ), "No version of software is recorded.",
)  # fmt: skip
FEATURES = Table(
    "features", "Safety features", (
        Column("feature", "Safety feature", 0.32), Column("state", "State", 0.12), Column("since", "From", 0.12, "day"),
        Column("until", "Until", 0.12, "day"), Column("evidence", "Evidence", 0.32),
    ), "No safety feature is recorded.",
)  # fmt: skip
CIRCUIT = Table(
    "alterations", "Alterations of the gas circuit", (
        Column("day", "Day", 0.13, "day"), Column("what", "What", 0.39), Column("evidence", "Evidence", 0.28),
        Column("by", "By", 0.2),
    ), "The gas circuit was not altered.",
)  # fmt: skip
COMPONENTS = Table(
    "components", "Components", (
        Column("label", "Component", 0.23), Column("kind", "Kind", 0.19), Column("part_number", "Part number", 0.13),
        Column("serial", "Serial", 0.13), Column("lot", "Lot", 0.1), Column("fitted", "Fitted", 0.11, "day"),
        Column("removed", "Removed", 0.11, "day"),
    ), "No component is recorded of the machine itself.", "Removed components included.",
)  # fmt: skip


def status(machine):
    rows = StatusChange.objects.filter(machine=machine).select_related("by").order_by("changed_on", "pk")
    return STATUS.of(rows, lambda one: (one.changed_on, one.get_status_display(), one.reason, one.evidence, one.by))


def places(machine):
    """The areas in which it was, day by day, oldest first."""
    rows = machine.area_periods.oldest_first().select_related("area__site", "by")
    return PLACES.of(rows, lambda one: (one.from_date, one.until_date, one.area, one.evidence, one.by))


def loans(machine):
    rows = machine.away_periods.order_by("from_date", "pk")
    return LOANS.of(
        rows,
        lambda one: (
            one.from_date, one.returned_on, f"{one.to_whom} ({one.get_kind_display().lower()})", one.reason,
            one.return_note,
        ),
    )  # fmt: skip


def handover(machine):
    """Acceptance here or elsewhere, and what first users recorded at the machine."""
    inspected = Inspection.objects.signed().with_result().filter(machine=machine, procedure__code=HANDOVER)
    earlier = EarlierInspection.objects.filter(machine=machine, counts_as=HANDOVER)
    checks = UserCheck.objects.filter(machine=machine).by_first_user()
    most = HANDOVERS.most
    rows = [(machine.in_use_from, "First day of use", None, None)]
    rows += [
        (day_of(one.signed_at), f"{one.procedure}, inspection {one.pk}", one.result_words, one.signed_by)
        for one in inspected.select_related("procedure", "signed_by").order_by("signed_at", "pk")[:most]
    ]
    rows += [
        (one.done_on, f"{one.procedure} (recorded elsewhere)", one.result, one.done_by)
        for one in earlier.order_by("done_on", "pk")[:most]
    ]
    rows += [
        (day_of(one.at), one.get_kind_display(), one.get_result_display(), one.by_name)
        for one in checks.order_by("at", "pk")[:most]
    ]
    return HANDOVERS.of_rows(sorted(rows, key=lambda row: row[0]))


def instructed(machine):
    model = machine.model
    rows = Competence.objects.filter(Q(machine_model=model) | Q(manufacturer=model.manufacturer))
    rows = rows.select_related("person", "machine_model", "confirmed_by", "withdrawn_by").order_by("confirmed_at", "pk")
    return INSTRUCTED.of(
        rows, lambda one: (one.person, one.subject, one.evidence, one.last_day, _confirmed(one))
    )  # fmt: skip


def _confirmed(one):
    withdrawn = f"; withdrawn {day_words(one.withdrawn_at)} by {one.withdrawn_by}" if one.withdrawn_at else ""
    return f"{one.confirmed_by}, {day_words(one.confirmed_at)}{withdrawn}"


def users(machine):
    """Who was instructed on it; what was withdrawn as a mistake is left out."""
    rows = (
        UserInstruction.objects.of_machine(machine).in_force().select_related("machine", "machine_model", "area__site")
    )
    return USERS.of(
        rows.order_by("held_on", "name", "pk"),
        lambda one: (
            one.name, one.subject, one.held_on, one.instructor, joined(one.topics, one.reference), one.valid_until,
        ),
    )  # fmt: skip


def software(machine):
    rows = SoftwareVersion.objects.in_force().filter(machine=machine).select_related("by")
    return SOFTWARE.of(
        rows.order_by("installed_on", "pk"),
        lambda one: (one.part or "the whole machine", one.version, one.installed_on, one.source, one.by),
    )


def features(machine):
    rows = FeatureState.objects.filter(machine=machine).order_by("feature", "from_date", "pk")
    return FEATURES.of(
        rows,
        lambda one: (
            one.catalogue_entry.name, one.get_state_display(), one.from_date, one.until_date,
            joined(one.get_evidence_display(), one.note),
        ),
    )  # fmt: skip


def circuit_changes(machine):
    rows = CircuitChange.objects.filter(machine=machine).select_related("by", "undone_by").order_by("changed_on", "pk")
    return CIRCUIT.of(rows, lambda one: (one.changed_on, one.words, joined(one.evidence, _undone(one)), one.by))


def _undone(one):
    return f"undone {day_words(one.undone_at)} by {one.undone_by}: {one.undone_reason}" if one.undone_at else ""


def components(machine):
    rows = Component.objects.filter(machine=machine).order_by("label", "fitted_on", "pk")
    return COMPONENTS.of(
        rows,
        lambda one: (
            one.label, one.get_kind_display(), one.part_number, one.serial, one.lot, one.fitted_on, one.removed_on,
        ),
    )  # fmt: skip


def joined(*texts):
    """Return the texts that are not empty, with semicolons between."""
    return "; ".join(text for text in texts if text)


def day_of(moment):
    """The day of a moment at the machine's site, whose time zone is active while a book is made."""
    return timezone.localtime(moment).date()
