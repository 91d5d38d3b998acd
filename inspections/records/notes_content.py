"""The remark, photographs and corrections of each step, as a signed record holds them.

Keys of what there is none of are absent, as in records from before they were stored.
"""

from inspections.at_bench.corrections import corrections_by_step
from inspections.models import Photograph, StepRemark


class Notes:
    """What was noted at the steps of an inspection; three queries, however many steps there are."""

    def __init__(self, steps):
        keys = [step.pk for step in steps]
        remarks = StepRemark.objects.filter(step__in=keys).exclude(text="").select_related("by")
        self.remarks = {remark.step_id: remark for remark in remarks}
        self.corrections = corrections_by_step(keys)
        self.photographs = {}
        for photograph in Photograph.objects.in_place().filter(step__in=keys).with_people():
            self.photographs.setdefault(photograph.step_id, []).append(photograph)

    def content_of(self, step, *, is_tested):
        """The keys of one step. Only a tested step has its readings on the record, and so its corrections."""
        content = {}
        if remark := self.remarks.get(step.pk):
            content["remark"] = {"text": remark.text, **_who_and_when(remark)}
        if photographs := self.photographs.get(step.pk):
            content["photographs"] = [_photograph_content(one) for one in photographs]
        if is_tested and (corrections := self.corrections.get(step.pk)):
            content["corrections"] = [_correction_content(one) for one in corrections]
        return content


def person_content(person):
    return {"username": person.username, "name": str(person)}


def _who_and_when(row):
    return {"by": person_content(row.by), "at": row.at.isoformat()}


def _photograph_content(photograph):
    return {
        "digest": photograph.digest,
        "preview": photograph.preview_digest,
        "caption": photograph.caption,
        **_who_and_when(photograph),
        "width": photograph.width,
        "height": photograph.height,
        "octets": photograph.octets,
    }


def _correction_content(correction):
    reading = correction.reading
    content = {
        "field": reading.field,
        "row": reading.row,
        "column": reading.column,
        "as_read": reading.as_read,
        "unit": reading.unit,
        "zero": reading.zero,
        "instrument": reading.instrument.code if reading.instrument else "",
        "by": person_content(reading.entered_by),
        "at": reading.entered_at.isoformat(),
        "replaced_by": person_content(correction.by),
        "replaced_at": correction.at.isoformat(),
    }
    if reading.read_again:
        content["read_again"] = reading.read_again
    return content | ({"program": {"name": reading.token.name, "token": reading.token.pk}} if reading.token else {})
