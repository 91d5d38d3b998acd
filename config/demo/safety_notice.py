"""An invented safety notice on one lot of a component: some machines are concerned, some cannot be decided."""

from datetime import timedelta

from inspections.actions import add_criterion, add_notice, match_notice, settle_item
from inspections.models import NoticeItem

LOT = "R-24"
TEXT = (
    "Interfaces of lot R-24 may have been delivered with a relief opening that is too small. Check the opening "
    "with the gauge enclosed, replace the interface if it does not pass, and confirm the number checked."
)


def tell_safety_notice(write, *, by, today, at):
    """Enter the notice, search for what it names, settle the first item, and print the counts."""
    notice = add_notice(
        published_by="Tallgrove Fittings", reference="TG-2026-03", title="Relief opening of scavenging interfaces",
        published_on=today - timedelta(days=9), received_on=today - timedelta(days=6),
        answer_by=today + timedelta(days=21), asks="Check the relief opening of each interface with the gauge.",
        as_published=TEXT, by=by, at=at,
    )  # fmt: skip
    add_criterion(notice, what="component", kind="scavenging-interface", lots=LOT, by=by, at=at)
    match_notice(notice, by=by, at=at)
    first = notice.items.filter(match="concerned").first()
    if first:
        words = "The gauge passes. Checked in the workshop, work sheet 7."
        settle_item(first, state=NoticeItem.State.DONE, words=words, by=by, at=at)
    counts = notice.items.counts()
    write(
        f"Notice       {notice}: {counts['concerned']} concerned, {counts['undecided']} cannot be decided, "
        f"{counts['open']} open"
    )
