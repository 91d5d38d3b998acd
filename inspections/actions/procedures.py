"""Bring versions of procedures into force: from files, and from drafts that a second person approves.

What was signed keeps the version with which it was started, and so does what is in progress.
"""

from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.canonical import canonical_json, digest_of
from fleet.changes import recording
from fleet.place_format import day_text
from inspections.at_bench.contained_procedures import refuse_not_contained
from inspections.at_bench.procedure_files import read_procedures
from inspections.deciding.second_person import WHY_SECOND_FOR_PROCEDURE, refuse_alone
from inspections.errors import Refused, SecondPersonNeeded
from inspections.models import Procedure, ProcedureDraft, ProcedureVersion
from inspections.procedure_editing.draft_checks import frozen_content, why_not_ready


@transaction.atomic
def load_procedures(directory, *, at, keep_own=False):
    """Load every TOML file of a directory and return the versions that are new. Safe to repeat.

    keep_own  leave out procedures of which the department wrote the newest version on pages

    A file that is the same as when it was loaded last is not loaded again. Raise ProcedureError naming file, step and
    what is accepted; then nothing is loaded.
    """
    created = []
    for content in read_procedures(directory):
        procedure, _ = Procedure.objects.get_or_create(code=content["code"], defaults=_columns(content))
        version = None if keep_own and has_own_version(procedure) else _loaded(procedure, content, at)
        created += [version] if version else []
    for version in created:
        refuse_not_contained(version.content, contents_in_force(timezone.localdate(at)))
    return created


def contents_in_force(on):
    """Return the content of the version of each procedure that is in force on a date, by code. One query."""
    found = ProcedureVersion.objects.newest(on).values_list("procedure__code", "content")
    return dict(found)


def has_own_version(procedure):
    """Return whether the department wrote the newest version on pages."""
    newest = procedure.versions.order_by("-number").first()
    return newest is not None and newest.is_own


@transaction.atomic
def approve_draft(draft, *, from_date, by, at, proposed_by=None):
    """Freeze a draft as the newest version of its procedure, which begins on `from_date`. Return the version.

    Raise SecondPersonNeeded without another person who proposed it, and for anybody who wrote in the draft. Raise
    Refused for a draft that cannot be approved and a date that has passed, with what is accepted.
    """
    refuse_alone(WHY_SECOND_FOR_PROCEDURE, by=by, proposed_by=proposed_by)
    held = ProcedureDraft.objects.select_for_update(no_key=True).get(pk=draft.pk)
    refuse_writer(held, by)
    check_approval(held, from_date=from_date)
    refuse_past(from_date, timezone.localdate(at))
    content = frozen_content(held)
    procedure = _held_procedure(held, content)
    version = _new_version(procedure, content, at, from_date=from_date, proposed_by=proposed_by, approved_by=by)
    with recording(held, by=by, at=at):
        became = {"state": ProcedureDraft.State.APPROVED, "version": version, "procedure": procedure}
        ProcedureDraft.objects.filter(pk=held.pk).update(**became)
    begin_versions(on=timezone.localdate(at))
    return version


@transaction.atomic
def begin_versions(*, on):
    """Give each procedure the title, interval and window of its version in force on a date. Safe to repeat."""
    for version in ProcedureVersion.objects.newest(on).select_related("procedure").order_by("pk"):
        columns = _columns(version.content)
        if any(getattr(version.procedure, name) != value for name, value in columns.items()):
            Procedure.objects.filter(pk=version.procedure_id).update(**columns)


def check_approval(draft, *, from_date):
    """Raise Refused, with what is accepted, for a draft that cannot be approved to begin on a date."""
    if not draft.is_being_written:
        raise Refused(f"{draft} is already {draft.get_state_display().lower()}.")
    if reasons := why_not_ready(draft):
        raise Refused(" ".join(reasons))
    refuse_not_contained({**draft.content, "code": draft.code}, contents_in_force(from_date))
    if later := draft.procedure and _beginning_later(draft.procedure, from_date):
        raise Refused(
            f"{later} begins on {day_text(later.from_date)}, after {day_text(from_date)}, and would never be in force. "
            f"Enter {day_text(later.from_date)} or a later day."
        )


def _beginning_later(procedure, day):
    """The newest version that takes the place of the one in force after a day; None if none does."""
    current = procedure.current_version(day)
    later = procedure.versions.filter(from_date__gt=day, number__gt=current.number if current else 0)
    return later.order_by("-from_date").first()


def refuse_writer(draft, person):
    """Raise SecondPersonNeeded for a person who wrote in the draft."""
    if draft.writers.filter(person=person).exists():
        raise SecondPersonNeeded(
            f"You wrote in {draft} yourself, so you cannot approve it. A person who did not write in it approves it."
        )


def refuse_past(from_date, today):
    """Raise Refused for a beginning before today: what was started since then was started with another version."""
    if from_date < today:
        raise Refused(f"{day_text(from_date)} is in the past. Accepted: {day_text(today)} or a later day.")


def _loaded(procedure, content, at):
    """A version of a file that differs from the version in force and from what was loaded last; else None."""
    digest = digest_of(canonical_json(content))
    procedure = Procedure.objects.select_for_update(no_key=True).get(pk=procedure.pk)
    newest_loaded = procedure.versions.from_files().order_by("-number").first()
    newest = (procedure.current_version(timezone.localdate(at)), newest_loaded)
    if any(one and one.digest == digest for one in newest):
        return None
    columns = _columns(content)
    for name, value in columns.items():
        setattr(procedure, name, value)
    procedure.save(update_fields=list(columns))
    return _new_version(procedure, content, at)


def _new_version(procedure, content, at, **approved):
    newest = procedure.versions.order_by("-number").first()
    number = newest.number + 1 if newest else 1
    digest = digest_of(canonical_json(content))
    return ProcedureVersion.objects.create(
        procedure=procedure, number=number, content=content, digest=digest, loaded_at=at, **approved
    )


def _held_procedure(draft, content):
    """The procedure of the draft, locked so that its versions are numbered one after the other; else a new one."""
    if draft.procedure_id:
        return Procedure.objects.select_for_update(no_key=True).get(pk=draft.procedure_id)
    try:
        with transaction.atomic():
            return Procedure.objects.create(code=draft.code, **_columns(content))
    except IntegrityError:
        raise Refused(
            f"The code “{draft.code}” was given to another procedure meanwhile. Copy the draft under another code."
        ) from None


def _columns(content):
    """What a procedure row repeats from its version in force."""
    return {
        "title": content["title"],
        "interval_months": content.get("interval_months"),
        "window_days": content.get("window_days", 14),
    }
