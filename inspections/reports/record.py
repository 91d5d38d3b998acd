"""The record of a signed inspection on paper, from the content that was signed and from nothing else.

Two pages say who, what, when, what decides, and who signed; an annex holds every reading. What came after the signature
(countersignature, amendments) is added to it, dated and marked as such.
"""

from zoneinfo import ZoneInfo

from reportlab.platypus import CondPageBreak, KeepTogether, PageBreak, Spacer

from fleet.days import long_date, long_moment
from fleet.documents import Heading, Paper, build_pdf, caution_box, data_table, marked_cell, text
from fleet.place_format import using
from inspections.errors import Refused
from inspections.records.shown_notes import pictures_of
from inspections.records.signed_record import ShownRecord
from inspections.reports.proof import as_of, entries_of, mark_of
from inspections.reports.record_front import front_pages
from inspections.reports.record_notes import corrected, corrected_elsewhere, notes_section
from inspections.reports.record_steps import in_words, measured_step, result_rows


class NotSigned(Refused):
    """There is no record before the signature."""


def write_record(inspection, amendments, *, newest=None) -> bytes:
    """Return the record of a signed inspection, on the paper and in the formats that its site had when it was signed.

    inspection  with its record, machine, site and the people who signed; amendments in the order of time
    newest      number of the last entry of the chain that the paper knows of; all there are by default
    Raises NotSigned if it is not signed.
    """
    if not inspection.is_signed:
        raise NotSigned(
            f"{inspection} is {inspection.stage_word}: its record exists only after the signature. Sign it first."
        )
    entries = entries_of(inspection, newest)
    inspection, amendments = as_of(inspection, amendments, entries)
    record = ShownRecord(inspection.record, amendments, pictures_of(inspection.record, with_preview=True))
    shown_as = record.place_format(inspection.machine.site)
    with using(shown_as):
        return _printed(inspection, record, amendments, entries, ZoneInfo(shown_as.zone))


def _printed(inspection, record, amendments, entries, zone):
    machine = record.content["machine"]
    paper = Paper(
        title="Inspection record",
        reference=f"{machine['asset_number']}, {machine['model']}",
        subject=f"{record.content['procedure']['title']} of machine {machine['asset_number']}",
        author=record.content["signed_by"]["name"],
        made=f"Record {inspection.pk}, SHA-256 {record.digest[:12]}…",
        keywords=mark_of(inspection, entries),
    )
    return build_pdf(paper, _story(inspection, record, amendments, entries, zone, paper))


def _story(inspection, record, amendments, entries, zone, paper):
    annex = [
        *_at_a_glance(record, paper),
        *_observed(record, zone, paper),
        *_measured(record, zone, paper),
        *notes_section(record, zone, paper),
        *_absent(record, paper),
        *_instruments(record, paper),
        *_amendments(amendments, zone, paper),
    ]
    heading = [PageBreak(), text("Annex: every reading", "title"), Spacer(1, 6)] if annex else []
    return [*front_pages(inspection, record, amendments, entries, zone, paper), *heading, *annex]


def _at_a_glance(record, paper):
    rows = [row for step in record.measured for row in result_rows(step)]
    if not rows:
        return []
    head = ["Step", "Result", "Value ± U (95 %)", "Limit", "Decision", "Margin", "Conforms"]
    widths = [paper.width * part for part in (0.19, 0.16, 0.15, 0.15, 0.14, 0.11, 0.1)]
    note = "U is the expanded uncertainty at 95 %. Conforms: probability that the true value is within the limit."
    return [Heading("Summary of measurements"), text(note, "note"), data_table(head, rows, widths, numbers=(5, 6))]


def _observed(record, zone, paper):
    rows = []
    for step in record.observed:
        instruction = step.content["item"]
        item = [text(step.title, "small-strong"), text(in_words(instruction), "note")]
        item += [text(sentence, "note") for sentence in (*step.repairs, *step.programs, *step.typed_later)]
        item += corrected_elsewhere(step, zone)
        found = step.values[0]
        was = [text(found.text, "small"), *corrected(found.corrections, zone)] if found.corrections else found.text
        rows.append([item, was, _decision(step), step.content["source"] or "–"])
        rows += [[text(f"Amended: {each.correction}", "small-alarm"), "", "", ""] for each in step.amendments]
    if not rows:
        return []
    widths = [paper.width * part for part in (0.46, 0.1, 0.17, 0.27)]
    return [Heading("Checks"), data_table(["Item", "Found", "Decision", "Source"], rows, widths)]


def _decision(step):
    return marked_cell(step.decision) if step.decision else "reported"


def _measured(record, zone, paper):
    parts = [CondPageBreak(220), Heading("Steps in detail")] if record.measured else []
    for step in record.measured:
        parts += measured_step(step, paper.width, zone)
        for amendment in step.amendments:
            parts.append(_amendment(amendment, zone, paper))
    return parts


def _absent(record, paper):
    if not record.absent:
        return []
    rows = [[step.title, step.content["absence"]] for step in record.absent]
    widths = [paper.width * 0.4, paper.width * 0.6]
    return [Heading("Not applicable to this machine"), data_table(["Step", "Reason"], rows, widths)]


def _instruments(record, paper):
    rows = [
        [
            text(each["code"], "small-strong"),
            each["name"],
            each["serial"] or "–",
            f"{each['certificate']}, readings corrected by it" if each.get("corrections") else each["certificate"],
            long_date(each["calibrated_day"]),
            long_date(each["due_day"]),
        ]
        for each in record.instruments
    ]
    if not rows:
        return []
    head = ["Code", "Instrument", "Serial", "Certificate", "Calibrated", "Valid until"]
    widths = [paper.width * part for part in (0.1, 0.3, 0.14, 0.2, 0.13, 0.13)]
    return [Heading("Instruments, as calibrated on the day"), data_table(head, rows, widths)]


def _amendments(amendments, zone, paper):
    if not amendments:
        return []
    note = "Added after the signature. The signed content above is unchanged."
    first, *others = (_amendment(each, zone, paper) for each in amendments)
    return [KeepTogether([Heading("Amendments"), text(note, "note"), first]), *others]


def _amendment(amendment, zone, paper):
    about = f"To {amendment.step}" if amendment.step else "To the whole record"
    sentences = [
        f"{about}: {amendment.correction}",
        f"Reason: {amendment.reason}",
        f"By {amendment.by}, {long_moment(amendment.at.astimezone(zone))}",
    ]
    return KeepTogether([Spacer(1, 4), caution_box(sentences, paper.width, title="Amendment")])
