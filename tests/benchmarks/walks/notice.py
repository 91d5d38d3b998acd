"""A planner: a safety notice from its arrival to the proof that none was missed and the reply to who published it."""

from datetime import timedelta

from tests.benchmarks.walks.department import LOT
from tests.benchmarks.walks.hand import hand_of, page_of

# Three pages to enter it (list, notice, what it names), one to open the work, one to settle, one to close, two papers:
# two presses each where a form is opened and sent. The number does not grow with the items.
MOST_CLICKS = 16


def walk(address, options):
    with page_of(address, "walk-planner", options.width) as page:
        hand = hand_of(page, options, "notice")
        enter(hand)
        hand.press("link", "Open work on")
        hand.press("button", "Open the work")
        settle(hand)
        papers = [hand.fetch("link", "Proof (PDF)"), hand.fetch("link", "Reply (PDF)")]
        close(hand)
        return hand.report(
            f"a notice with {items()} items, from arrival to proof and reply", goal=MOST_CLICKS,
            is_done=is_closed() and all(size > 10_000 for _, size in papers),
        )  # fmt: skip


def enter(hand):
    from django.utils import timezone

    today = timezone.localdate()
    hand.press("link", "Findings", exact=True)
    hand.press("link", "Safety notices")
    hand.press("link", "Enter a notice")
    hand.choose("Published by", "Tallgrove Fittings")
    hand.choose("Reference", "TG-2026-07")
    hand.choose("Title", "Relief opening of scavenging interfaces")
    hand.choose("Date of the notice", f"{today - timedelta(days=3)}")
    hand.choose("To be done by", f"{today + timedelta(days=21)}")
    hand.press("button", "Save")
    hand.choose("Kind of component", "Scavenging interface")
    hand.choose("Lots", LOT)
    hand.press("button", "Add, and search the register")
    hand.page.get_by_text("The register was searched").wait_for()


def settle(hand):
    hand.press("link", "Settle several")
    hand.choose("What was done, what was found, or where it went", "Relief opening passes the gauge; work sheet 11.")
    hand.press("button", "Settle all")
    hand.page.get_by_text("settled.").first.wait_for()


def close(hand):
    hand.press("link", "Close", exact=True)
    hand.choose("How the notice was answered", "The reply went to Tallgrove Fittings by post today.")
    hand.press("button", "Close the notice")
    hand.page.get_by_text("is closed").first.wait_for()


def items():
    from inspections.models import NoticeItem

    return NoticeItem.objects.count()


def is_closed():
    from inspections.models import SafetyNotice

    return not SafetyNotice.objects.open().exists() and items() > 0
