"""When an entry says it was made, against the clock of the server, the entry before and the work that it closes.

Entries from before Bobbin kept its own clock beside the stated time are not judged. What is entered as history, as the
demonstration is, is dated in the past by its nature; it comes before the first entry that is not.
"""

from datetime import datetime

from django.utils import timezone

from fleet.acting.scope import HISTORY, LIVE
from fleet.journal.checking import CLOCK_SKEW

WORDS = {"signed": "signature", "countersigned": "countersignature", "amended": "amendment"}


def out_of_order(before, says):
    """Yield (expected, column, found) where an entry is earlier than the one before; both as `says_of` gives them."""
    if not before or not says or "recorded_at" not in before or "recorded_at" not in says:
        return
    columns = ["recorded_at"]
    if says["mode"] == before["mode"] == LIVE:
        columns.append("at")
    for column in columns:
        if _moment(says[column]) < _moment(before[column]) - CLOCK_SKEW:
            yield f"{before[column]} or later", column, says[column]
    if says["mode"] == HISTORY and before["mode"] == LIVE:
        yield LIVE, "mode", HISTORY


def against_time(report, says):
    """Yield what an entry's own times contradict, by a `report` of inspections.chain.against."""
    word = WORDS.get(says["kind"], says["kind"])
    at = _moment(says["at"])
    if "recorded_at" in says:
        recorded_at = _moment(says["recorded_at"])
        if says["mode"] == LIVE and abs(at - recorded_at) > CLOCK_SKEW:
            yield report(
                "time", f"date of the {word} differs from the time it was made", "at", says["recorded_at"], says["at"]
            )
        if recorded_at > (now := timezone.now()) + CLOCK_SKEW:
            yield report("time", f"{word} made in the future", "recorded_at", now.isoformat(), says["recorded_at"])
    if says["kind"] == "signed" and (work := _last_work(says["rows"])) and at < _moment(work) - CLOCK_SKEW:
        yield report("time", "signature dated before the work that it signs", "at", f"{work} or later", says["at"])


def _last_work(rows):
    """The latest moment at which the inspection was opened or a reading entered, ISO text, or None.

    All are in UTC, so that the latest is the last as text.
    """
    moments = [*_column(rows["inspection"], "opened_at"), *_column(rows["reading"], "entered_at")]
    return max(filter(None, moments), default=None)


def _column(table, name):
    place = table["fields"].index(name)
    return [row[place] for row in table["rows"]]


def _moment(text):
    return datetime.fromisoformat(text)
