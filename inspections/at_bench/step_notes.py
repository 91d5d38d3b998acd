"""The remark and the photographs of a step as the bench shows them, with what was sent and refused."""

from dataclasses import dataclass, field

from fleet.photographs import ACCEPTED, LARGEST_BYTES
from inspections.models import InspectionStep, Photograph, StepRemark
from inspections.models.step_notes import LONGEST_CAPTION, LONGEST_REMARK, MOST_PHOTOGRAPHS


@dataclass(slots=True)
class StepNotes:
    """`typed`, `refusal` and `contested` are set for a remark that was not saved, `refused` for a photograph."""

    step: InspectionStep
    remark: StepRemark | None
    photographs: list[Photograph]
    typed: str | None = None
    refusal: str = ""
    contested: StepRemark | None = None
    refused: list[str] = field(default_factory=list)

    accepted, largest_bytes = ACCEPTED, LARGEST_BYTES
    longest_remark, longest_caption = LONGEST_REMARK, LONGEST_CAPTION

    @property
    def text(self):
        if self.typed is not None:
            return self.typed
        return self.remark.text if self.remark else ""

    @property
    def seen(self):
        """What identifies the remark that the page shows."""
        return self.remark.at.isoformat() if self.remark else ""

    @property
    def state(self):
        if self.refusal or self.contested:
            return "failed"
        return "kept" if self.remark and self.remark.text else ""

    @property
    def room(self):
        """How many photographs can be added."""
        return MOST_PHOTOGRAPHS - len(self.photographs)


def notes_of(step, **sent):
    """Return the notes of a step as stored. Two queries."""
    remark = StepRemark.objects.filter(step=step).select_related("by").first()
    return StepNotes(step, remark, list(step.photographs.in_place().with_people()), **sent)
