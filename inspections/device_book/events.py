"""What happened to a machine, and what is kept as evidence: notices, incidents, reports, checks, files, its end."""

from inspections.decommissioning.checklist import ITEMS
from inspections.device_book.life import joined
from inspections.device_book.sections import Column, Table
from inspections.models import (
    Attachment,
    DecommissioningAnswer,
    FaultReport,
    NoticeItem,
    SeriousIncident,
    UserCheck,
)

NOTICES = Table(
    "notices", "Safety notices", (
        Column("notice", "Notice", 0.3), Column("item", "Item", 0.2), Column("answer", "Answer", 0.2),
        Column("state", "What became of it", 0.3),
    ), "No safety notice concerned the machine or a component of it.",
)  # fmt: skip
INCIDENTS = Table(
    "incidents", "Serious incidents", (
        Column("number", "No.", 0.07), Column("opened", "Opened", 0.2, "moment"), Column("by", "By", 0.17),
        Column("closed", "Closed", 0.12, "day"), Column("reason", "Reason", 0.24),
        Column("digest", "SHA-256 of the file", 0.2, "digest"),
    ), "No serious incident is recorded.",
)  # fmt: skip
REPORTS = Table(
    "reports", "Faults reported by users", (
        Column("number", "No.", 0.09), Column("at", "At", 0.18, "moment"), Column("what", "What happened", 0.35),
        Column("who", "Reported by", 0.16), Column("state", "What became of it", 0.22),
    ), "No fault was reported from the label of the machine.",
)  # fmt: skip
CHECKS = Table(
    "user_checks", "Checks of users that found a problem", (
        Column("at", "At", 0.2, "moment"), Column("kind", "Check", 0.25), Column("by", "By", 0.2),
        Column("note", "What was found", 0.35),
    ), "No check of a user found a problem.",
)  # fmt: skip
DECOMMISSIONING = Table(
    "decommissioning", "Decommissioning", (
        Column("item", "Item", 0.25), Column("answer", "Answer", 0.15), Column("words", "Remark", 0.32),
        Column("proof", "Proof", 0.1), Column("by", "By", 0.18),
    ), "The checklist was not begun.",
)  # fmt: skip
FILES = Table(
    "files", "Attached files", (
        Column("number", "File", 0.07), Column("title", "What it shows", 0.24), Column("of", "Attached to", 0.2),
        Column("kind", "Kind", 0.12), Column("attached", "Attached", 0.17), Column("digest", "SHA-256", 0.2, "digest"),
    ), "No file is attached.",
    "Files in place go with this book, each under its number. A withdrawn file is listed and does not go with it.",
)  # fmt: skip


def notices(machine):
    rows = NoticeItem.objects.filter(machine=machine, inspection=None).with_place().select_related("notice")
    return NOTICES.of(rows.order_by("found_at", "pk"), _notice)


def _notice(item):
    notice = item.notice
    name = f"{notice.published_by}, {notice.reference}: {notice.title}"
    settled = joined(item.get_state_display(), item.words, item.settled_by and f"by {item.settled_by}")
    return name, item, joined(item.get_match_display(), item.reason), settled


def incidents(machine):
    rows = SeriousIncident.objects.filter(machine=machine).select_related("opened_by").defer("content")
    return INCIDENTS.of(
        rows.order_by("opened_at", "pk"),
        lambda one: (one.pk, one.opened_at, one.opened_by, one.closed_at, one.closing_reason, one.digest),
    )  # fmt: skip


def reports(machine):
    rows = FaultReport.objects.filter(machine=machine).select_related("settled_by").order_by("reported_at", "pk")
    return REPORTS.of(
        rows,
        lambda one: (
            one.number, one.reported_at, joined(one.what, one.where), one.who,
            joined(one.get_state_display(), one.finding_id and f"finding {one.finding_id}", one.reason),
        ),
    )  # fmt: skip


def user_checks(machine):
    rows = UserCheck.objects.filter(machine=machine, result=UserCheck.Found.PROBLEM).order_by("at", "pk")
    return CHECKS.of(rows, lambda one: (one.at, one.get_kind_display(), one.by_name, one.note))


def decommissioning(machine):
    """The items in the order of the list, the open ones too once the checklist was begun."""
    rows = DecommissioningAnswer.objects.filter(machine=machine).with_people()
    by_code = {one.code: one for one in rows}
    if not by_code:
        return DECOMMISSIONING.of_rows([])
    codes = [*ITEMS, *(code for code in by_code if code not in ITEMS)]
    return DECOMMISSIONING.of_rows([_item(code, by_code.get(code), machine) for code in codes])


def _item(code, answer, machine):
    if answer is None:
        return ITEMS[code].title, "open", None, None, None
    proof = f"file {answer.proof_id}" if answer.proof_id else None
    words = joined(answer.route_words, answer.words)
    return answer.title, answer.get_state_display(), words, proof, f"{answer.by}, {machine.site.date_of(answer.at)}"


def files(machine):
    return FILES.of(files_of(machine), _file)


def files_of(machine):
    """The files that a book of this machine lists: its own and those of its components, findings and inspections."""
    return Attachment.objects.of_machine(machine).with_subjects().with_people().order_by("pk")


def _file(one):
    standing = "" if one.is_in_place else f"withdrawn: {one.withdrawn_reason}"
    removed = "" if one.has_content else f"file removed: {one.removed_reason}"
    attached = f"{one.by}, {one.site.date_of(one.at)}"
    of = "the machine" if one.of == "machine" else f"{one.of} {one.subject}"
    kind = f"{one.get_kind_display()}, {one.octets:,} bytes"
    return one.pk, joined(one.title, standing, removed), of, kind, attached, one.digest
