"""How long an inspection usually takes, as a number for plans and days: what is known, else an hour."""

from inspections.schedule.expected_minutes import expected_minutes

MINUTES = 60  # where no signed inspection and no planning rule says; common practice, no source


def usual_minutes(pairs):
    """Return the minutes of each (procedure key, model key). Two queries."""
    return {pair: known.value or MINUTES for pair, known in expected_minutes(pairs).items()}
