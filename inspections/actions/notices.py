"""Enter a safety notice, find what it concerns, open work for it, settle each item, and close it."""

from django.db import IntegrityError, transaction

from fleet.changes import record_created, recording
from inspections.actions.findings import report_fault
from inspections.actions.planning import plan_inspection
from inspections.errors import NoticeRefused
from inspections.models import Finding, NoticeCriterion, NoticeItem, SafetyNotice
from inspections.notice_search.searching import found_items, looked_at
from inspections.notices.answers import Match, any_of
from inspections.notices.ranges import RangeRefused

BATCH = 500
NOT_NAMED = "No line in force of the notice names it."
NOW_OUT = "By what is recorded now it is not concerned. Confirm that by looking at it."


def add_notice(*, by, at, **fields):
    """Enter a notice; criteria are added to it afterwards. Raise NoticeRefused if it was entered before."""
    try:
        with transaction.atomic():
            notice = SafetyNotice.objects.create(entered_by=by, entered_at=at, **fields)
            record_created([notice], by=by, at=at)
            return notice
    except IntegrityError:
        raise NoticeRefused(
            f"Notice {fields['reference']} of {fields['published_by']} is already entered. Add criteria to that one."
        ) from None


@transaction.atomic
def add_criterion(notice, *, by, at, **fields):
    """Add one line of what the notice names. Raise NoticeRefused for a list that cannot be read."""
    _hold(notice)
    criterion = NoticeCriterion(notice=notice, added_by=by, added_at=at, **fields)
    try:
        _ = criterion.as_criterion
    except RangeRefused as error:
        raise NoticeRefused(str(error)) from None
    criterion.save()
    record_created([criterion], by=by, at=at)
    return criterion


@transaction.atomic
def withdraw_criterion(criterion, *, reason, by, at):
    """Withdraw one line of what a notice names; it stays stored. The next search closes what it alone had found.

    Raise NoticeRefused without a reason, and if it was withdrawn before.
    """
    if not reason.strip():
        raise NoticeRefused("State why the notice does not name this, such as the page of the notice that says so.")
    _hold(criterion.notice)
    if not NoticeCriterion.objects.in_force().filter(pk=criterion.pk).exists():
        raise NoticeRefused(f"“{criterion}” was withdrawn already.")
    _change(criterion, {"withdrawn_by": by, "withdrawn_at": at, "withdrawn_reason": reason.strip()}, by=by, at=at)
    return criterion


@transaction.atomic
def correct_criterion(criterion, *, reason, by, at, **fields):
    """Add a line in the place of another, which is withdrawn with the reason. Return the new one."""
    corrected = add_criterion(criterion.notice, by=by, at=at, **fields)
    withdraw_criterion(criterion, reason=reason, by=by, at=at)
    return corrected


@transaction.atomic
def match_notice(notice, *, at, by=None):
    """Look through the register again; add what is new and say what changed. Return how many items were added.

    An item is never removed. A new item opens a closed notice again, and so does an item that was settled as not
    concerned if what is recorded now says that it is. An open item that only withdrawn criteria found is closed.
    """
    held = _hold(notice)
    named = list(notice.criteria.select_related("model", "withdrawn_by"))
    if not named:
        return 0
    criteria = [one for one in named if one.withdrawn_at is None]
    found = _merged(found_items(criteria))
    items = {item.key: item for item in notice.items.all()}
    added = [_item(notice, one, at) for key, one in found.items() if key not in items]
    for start in range(0, len(added), BATCH):
        record_created(NoticeItem.objects.bulk_create(added[start : start + BATCH]), by=by, at=at)
    reopened = _update(items, found, by=by, at=at)
    _close_not_named(items, found, [one for one in named if one not in criteria], at=at)
    if not held.is_open and (added or reopened):
        _change(notice, {"closed_at": None, "closed_by": None, "closing_note": ""}, by=by, at=at)
    counts = {f"looked_{what}s": number for what, number in looked_at(criteria).items()}
    SafetyNotice.objects.filter(pk=notice.pk).update(looked_at=at, **counts)
    return len(added)


@transaction.atomic
def settle_item(item, *, state, words, by, at):
    """Settle an item, or open it again, with what was done or found. Raise NoticeRefused without words."""
    if not words.strip():
        raise NoticeRefused(f"State what was done with {item}, what was found, or where it went.")
    is_open = state == NoticeItem.State.OPEN
    who = {"settled_by": None, "settled_at": None} if is_open else {"settled_by": by, "settled_at": at}
    with recording(item, by=by, at=at):
        held = NoticeItem.objects.select_for_update(no_key=True).select_related("notice").get(pk=item.pk)
        if not held.notice.is_open:
            raise NoticeRefused(f"Notice {held.notice} is closed: its items do not change any more.")
        NoticeItem.objects.filter(pk=item.pk).update(state=state, words=words.strip(), **who)
    item.refresh_from_db(fields=["state", "words", "settled_by", "settled_at"])
    return item


@transaction.atomic
def settle_items(items, *, state, words, by, at):
    """Settle open items with the same words, all or none. Raise NoticeRefused for one that was settled meanwhile."""
    chosen = NoticeItem.objects.filter(pk__in=[item.pk for item in items])
    held = chosen.select_for_update(no_key=True).order_by("pk")
    if settled := next((item for item in held if not item.is_open), None):
        raise NoticeRefused(f"{settled} was settled meanwhile. Nothing is stored; choose again from what is open.")
    return [settle_item(item, state=state, words=words, by=by, at=at) for item in items]


@transaction.atomic
def open_finding_of_item(item, *, severity, by, at):
    """Open a finding on the machine of an item. Raise NoticeRefused if there is work already, or nothing to work on."""
    _hold_for_work(item)
    notice = item.notice
    title = f"{notice.reference}: {item.component or notice.title}"[:200]
    description = f"Safety notice {notice}: {notice.title}\n{item.get_match_display()}. {item.reason}\n{notice.asks}"
    finding = report_fault(
        item.machine,
        title=title,
        severity=severity,
        description=description,
        origin=Finding.Origin.NOTICE,
        by=by,
        at=at,
    )
    _change(item, {"finding": finding}, by=by, at=at)
    return finding


@transaction.atomic
def plan_work_of_item(item, *, procedure, due_on, by, at):
    """Plan an inspection for an item; for a doubtful inspection, its own procedure if none is named."""
    _hold_for_work(item)
    procedure = procedure or (item.inspection and item.inspection.procedure)
    if procedure is None:
        raise NoticeRefused(f"Choose the procedure by which {item} is inspected.")
    note = f"Safety notice {item.notice}"[:300]
    planned = plan_inspection(item.machine, procedure, due_on=due_on, by=by, at=at, note=note)
    _change(item, {"planned": planned}, by=by, at=at)
    return planned


@transaction.atomic
def close_notice(notice, *, note, by, at):
    """Close a notice. Raise NoticeRefused without a note, or while one of its items is open."""
    held = _hold(notice)
    waiting = notice.items.open().count()
    if not note.strip():
        raise NoticeRefused(f"State how notice {notice} was answered.")
    if waiting or not held.is_open:
        why = f"{waiting} of its items are open. Settle each first" if waiting else "It is already closed"
        raise NoticeRefused(f"Notice {notice} cannot be closed. {why}.")
    if held.looked_at is None and held.calibration_id is None:
        raise NoticeRefused(f"Notice {notice} cannot be closed before the register was searched for what it names.")
    _change(notice, {"closed_at": at, "closed_by": by, "closing_note": note.strip()}, by=by, at=at)
    return notice


@transaction.atomic
def open_found_error_notice(calibration, suspected, *, looked, received_on, by, at):
    """Make a notice of an instrument found in error, with an item for each inspection that would be decided otherwise.

    suspected  `Suspected` results (inspections/deciding/found_error.py)
    looked     how many inspections were decided again
    """
    notice = SafetyNotice.objects.filter(calibration=calibration).first() or add_notice(
        published_by="This department", reference=f"{calibration.instrument.code} {calibration.certificate}"[:80],
        title=f"Instrument {calibration.instrument} was found in error"[:200], published_on=calibration.calibrated_on,
        received_on=received_on, calibration=calibration, by=by, at=at,
        asks="Repeat each inspection of which a decision would change.",
    )  # fmt: skip
    known = set(notice.items.values_list("inspection", flat=True))
    by_inspection = {}
    for one in suspected:
        by_inspection.setdefault(one.inspection, []).append(
            f"{one.step}, {one.label}: {one.was}, would be {one.would_be}"
        )
    added = [
        NoticeItem(
            notice=notice, machine_id=inspection.machine_id, inspection=inspection, match=Match.CONCERNED, found_at=at,
            reason="; ".join(reasons),
        )
        for inspection, reasons in by_inspection.items()
        if inspection.pk not in known
    ]  # fmt: skip
    record_created(NoticeItem.objects.bulk_create(added), by=by, at=at)
    SafetyNotice.objects.filter(pk=notice.pk).update(looked_at=at, looked_inspections=looked)
    return notice


def _hold(notice):
    """Lock the notice for this transaction and return it as stored."""
    return SafetyNotice.objects.select_for_update(no_key=True).get(pk=notice.pk)


def _hold_for_work(item):
    held = NoticeItem.objects.select_for_update(no_key=True).get(pk=item.pk)
    if held.has_work:
        raise NoticeRefused(f"Work on {item} was already opened. It is linked on the page of the item.")
    if not held.is_open or not item.may_have_work:
        raise NoticeRefused(
            f"No work can be opened on {item}: it is settled, was removed, or is not on a machine in the register. "
            "Settle the item with what became of it."
        )


def _change(row, fields, *, by, at):
    with recording(row, by=by, at=at):
        type(row).objects.filter(pk=row.pk).update(**fields)
    for name, value in fields.items():
        setattr(row, name, value)


def _merged(found):
    """Return each thing once, with the answer that counts of all that were found."""
    merged = {}
    for one in found:
        before = merged.get(one.key)
        merged[one.key] = one._replace(answer=any_of([before.answer, one.answer])) if before else one
    return merged


def _item(notice, one, at):
    own = {one.what: one.pk}
    machine = own.get("machine") or one.machine
    return NoticeItem(
        notice=notice, machine_id=machine, component_id=own.get("component"), instrument_id=own.get("instrument"),
        match=one.answer.match, reason=one.answer.reason, found_at=at,
    )  # fmt: skip


def _update(items, found, *, by, at):
    """Store the answers that changed. Return how many items were opened again."""
    reopened = 0
    for key, item in items.items():
        if item.inspection_id:
            continue
        answer = found[key].answer if key in found else None
        match, reason = (answer.match, answer.reason) if answer else (NoticeItem.Match.CHANGED, _why_out(item))
        if (item.match, item.reason) == (match, reason):
            continue
        fields = {"match": match, "reason": reason}
        if _opens_again(item, match):
            fields |= {"state": NoticeItem.State.OPEN, "settled_by": None, "settled_at": None}
            reopened += 1
        _change(item, fields, by=by, at=at)
    return reopened


def _why_out(item):
    return NOT_NAMED if item.state == NoticeItem.State.NOT_NAMED else NOW_OUT


def _opens_again(item, match):
    if item.state == NoticeItem.State.NOT_NAMED:
        return match in (Match.CONCERNED, Match.UNDECIDED)
    return item.state == NoticeItem.State.NOT_CONCERNED and match == Match.CONCERNED


def _close_not_named(items, found, withdrawn, *, at):
    """Close the open items that only withdrawn criteria would find now, with the reason of those."""
    left = {key: item for key, item in items.items() if item.is_open and key not in found and not item.inspection_id}
    for criterion in withdrawn if left else ():
        words = f"What named it was withdrawn ({criterion}): {criterion.withdrawn_reason}"
        for key in {one.key for one in found_items([criterion])} & set(left):
            fields = {"state": NoticeItem.State.NOT_NAMED, "words": words, "settled_at": at, "reason": NOT_NAMED}
            by = criterion.withdrawn_by
            _change(left.pop(key), fields | {"settled_by": by}, by=by, at=at)
