"""Ways in which a simulated technician now and then works that prove nothing, or less than they should."""

import random

# By habit: the test that it spoils, and for one of several observations the code of the step.
HABITS = {
    "coarse sweep": ("supply-failure", ""),
    "sweep in steps of 5 psi": ("supply-failure", ""),
    "positive pressure": ("low-pressure-leak", ""),
    "first vaporizer only": ("low-pressure-leak", ""),
    "nothing to limit": ("oxygen-mixture", ""),
    "analyser read too soon": ("oxygen-mixture", ""),
    "creep watched for a minute": ("regulator", ""),
    "pipeline at 4 L/min": ("pipeline-supply", ""),
    "no test lung": ("observation", "disconnection-alarm"),
}
SHARE = 0.07  # of all inspections
NO_TEST_LUNG = "No test lung was at hand."


def habit_of(inspection, truth, day):
    """Return the habit that spoils an inspection on a day, empty for most. Chance depends on the inspection alone.

    A machine with a fault gets a careful inspection, and so does a repeated one.
    """
    if truth.has_any_fault(day) or inspection.note:
        return ""
    number = inspection.machine.inspections.filter(procedure=inspection.procedure, pk__lt=inspection.pk).count()
    chance = random.Random(f"habit {inspection.machine.asset_number} {inspection.procedure.code} {number}")
    if chance.random() > SHARE:
        return ""
    return chance.choice([name for name in HABITS if name != "positive pressure" or truth.has_outlet_valve])
