"""A manager before a board: how much is done on time, the report of the year, and where money closes most."""

from tests.benchmarks.walks.hand import hand_of, page_of

# Three answers, each within five presses of Home; the hour of the owner is then for reading.
MOST_CLICKS, MOST_SECONDS = 15, 600
SUM = "120000"


def walk(address, options):
    with page_of(address, "walk-manager", options.width) as page:
        hand = hand_of(page, options, "board")
        hand.press("link", "Work", exact=True)
        hand.press("link", "On time", exact=True)
        figure = page.get_by_text("due dates", exact=False).first.inner_text()
        hand.press("link", "Work", exact=True)
        hand.press("link", "Programme", exact=True)
        report = hand.fetch("link", "Report as PDF")
        compute(hand)
        paper = hand.fetch("link", "Paper for the board (PDF)")
        print(f"  the answer reads: {page.locator('.lead').first.inner_text()}")
        is_done = bool(figure) and all(size > 10_000 for _, size in (report, paper))
        return hand.report("the board's three answers", goal=MOST_CLICKS, seconds=MOST_SECONDS, is_done=is_done)


def compute(hand):
    hand.press("link", "Retirement", exact=True)
    hand.press("link", "What a sum can close")
    hand.press("link", "Compute one")
    hand.choose("Title", "Board of March")
    hand.choose("Money for each of three years", SUM)
    hand.press("button", "Compute")
    hand.wait_for_job()
    hand.press("link", "Open the result")
