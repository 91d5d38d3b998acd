"""Which steps a person knows on a kind of machine, so that what is the same every time can be folded away."""

from inspections.models import Reading


def known_to(person, steps):
    """Return the codes of those steps in which a person has entered a reading on a machine of the same model before.

    The steps are of one inspection. A set as left is known as its step is. One query, and one for each set as left.
    """
    if not steps:
        return set()
    model = steps[0].inspection.machine.model_id
    entered = Reading.objects.filter(entered_by=person, step__inspection__machine__model=model)
    first = {step.code: (step.as_left_of or step).code for step in steps}
    here = entered.filter(step__code__in=set(first.values()))
    known = set(here.values_list("step__code", flat=True).distinct())
    return {code for code, of_step in first.items() if of_step in known}
