"""The nightly comparison of the current state of every machine with its records."""

from datetime import time

from fleet.current_state.comparing import mend_all
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily

CURRENT_STATE = "current-state"
SHOWN = 5


@job_kind(CURRENT_STATE, "Current state of machines")
def compare_current_states(run):
    """Renew every row in short transactions; safe to repeat. What differed is a fault of the program, and is told."""
    found = mend_all(at=run.started_at, each=lambda batches: run.each(batches, "Comparing machines"))
    return Result(differences_in_words(found))


def differences_in_words(found):
    """Return a sentence about the Differences, with the first few by asset number."""
    if not found:
        return "The current state of every machine agrees with its records."
    machines = "1 machine" if len(found) == 1 else f"{len(found)} machines"
    first = ", ".join(one.asset_number for one in found[:SHOWN])
    more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
    return f"The current state of {machines} was not as recorded, and is renewed: {first}{more}."


run_daily(CURRENT_STATE, "Compare the current state of machines", at=time(1, 30))
