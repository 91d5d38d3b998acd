"""The nightly comparison of the current state of every machine with its records."""

import logging
from datetime import time

from fleet.current_state.comparing import mend_all
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily

CURRENT_STATE = "current-state"
SHOWN = 5
log = logging.getLogger(__name__)


@job_kind(CURRENT_STATE, "Current state of machines")
def compare_current_states(run):
    """Renew every row in short transactions; safe to repeat. What differed is a fault of the program, and is told."""
    found = mend_all(at=run.started_at, each=lambda batches: run.each(batches, "Comparing machines"))
    words = differences_in_words(found)
    if found:
        log.warning("%s", words)
    return Result(words)


def differences_in_words(found):
    """Return a sentence about the Differences, with the first few by asset number."""
    if not found:
        return "The current state of every machine agrees with its records."
    rows = "1 machine was" if len(found) == 1 else f"{len(found)} machines were"
    first = "; ".join(f"{one.asset_number} {one.words}" for one in found[:SHOWN])
    more = f"; and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
    return f"The current state of {rows} not as recorded, and is renewed: {first}{more}."


run_daily(CURRENT_STATE, "Compare the current state of machines", at=time(1, 30))
