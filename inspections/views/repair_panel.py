"""What the bench page shows of repairs below the readings of a step."""

from dataclasses import dataclass, field

from django.utils.functional import cached_property

from inspections.at_bench.progress import Progress, StepProgress
from inspections.at_bench.repairs import after_work, repairs_in, to_be_tested_again
from inspections.at_bench.replaceable import replaceable_components
from inspections.forms.repair import AsLeftForm, ReplacedForm, ReplacementForm
from inspections.models import InspectionStep, Replacement


@dataclass
class RepairPanel:
    """`evaluated` are the steps of the inspection; `forms` those that were sent and refused, by name."""

    step: InspectionStep
    evaluated: object
    on: object
    forms: dict = field(default_factory=dict)
    refused: str = ""

    @cached_property
    def replacements(self):
        """The components entered as replaced in this inspection, each with the form that corrects the entry."""
        return [(one, self.forms.get(f"replaced-{one.pk}") or corrected(one)) for one in self._in_force]

    @cached_property
    def again(self):
        """The steps of the inspection that must be tested again, each with the work that calls for it."""
        found = to_be_tested_again(
            self.evaluated, repairs_in(self.step.inspection, self.evaluated.steps, self._in_force)
        )
        return list(found.items())

    @property
    def again_here(self):
        """The work that calls for this step again; empty if none does."""
        return next((words for step, words in self.again if step.pk == self.step.pk), [])

    @property
    def sets(self):
        """All sets of readings of this step, if there are several."""
        same = [one for one in self.evaluated.steps if one.first_set_id == self.step.first_set_id]
        return same if len(same) > 1 else []

    @property
    def before(self):
        """The earlier sets of this step, each with what it says in words."""
        earlier = [one for one in self.sets if one.set_number < self.step.set_number]
        return [(one, self.evaluated.results[one][1].words) for one in earlier if one in self.evaluated.results]

    @property
    def last_set(self):
        return self.sets[-1] if self.sets else self.step

    @property
    def added(self):
        """The steps that this inspection has because of a component replaced in it."""
        keys = {one.pk for one in self._in_force}
        return [one for one in self.evaluated.steps if one.content.get("after_replacement") in keys]

    @property
    def can_begin(self):
        """Whether a further set is offered. Whether these readings are complete is asked when it is begun."""
        return self.step.is_last and not self.step.not_tested_reason

    @property
    def can_be_undone(self):
        return bool(self.step.as_left_of_id) and self.step.is_last and not self.step.holds_anything

    @property
    def replacement_form(self):
        components = replaceable_components(self.step, self.on)
        return self.forms.get("replacement") or ReplacementForm(components=components, auto_id="replaced-%s")

    @property
    def proposed(self):
        """What calls for a set as left here, as it is proposed: other work, or what was replaced at this step."""
        if self.again_here:
            return after_work(self.again_here)
        here = [f"{one.label} replaced ({one.fitted_words})" for one in self._in_force if one.step_id == self.step.pk]
        return f"{'; '.join(here)}."[:300] if here else ""

    @property
    def as_left_form(self):
        return self.forms.get("as_left") or AsLeftForm(initial={"work_done": self.proposed}, auto_id="as-left-%s")

    @cached_property
    def _in_force(self):
        return list(Replacement.objects.of(self.step.inspection_id))


def corrected(replacement, data=None):
    """The form that corrects an entry."""
    names = ("serial", "lot", "part_number")
    initial = {name: getattr(replacement, f"fitted_{name}") for name in names}
    initial |= {f"removed_{name}": getattr(replacement, f"removed_{name}") for name in names}
    initial["note"] = replacement.note
    return ReplacedForm(data, initial=initial, auto_id=f"replaced-{replacement.pk}-%s")


@dataclass(frozen=True, slots=True)
class RepairedStep:
    """A step that failed as found, and in words what its last set of readings says."""

    found: StepProgress
    left: StepProgress

    @property
    def words(self):
        if self.left.step.not_tested_reason or not self.left.decision:
            return "As left it was not tested."
        return f"As left: {self.left.decision}."


def repairs_to_sign(inspection, evaluated):
    """What the page of a signature says of repairs: the steps that failed as found, and the components replaced."""
    progress = Progress(inspection, evaluated)
    last = {one.step.first_set_id: one for one in progress.that_apply if one.step.is_last}
    failed = [one for one in progress.that_apply if not one.step.is_last and one.is_failed]
    return {
        "repaired": [RepairedStep(one, last[one.step.first_set_id]) for one in failed],
        "replacements": list(Replacement.objects.of(inspection)),
    }
