"""The record of a signed inspection on paper, from the content that was signed and from nothing else.

What came after the signature (countersignature, amendments) is added to it, dated and marked as such.
"""

from zoneinfo import ZoneInfo

from reportlab.platypus import CondPageBreak, KeepTogether, Spacer

from fleet.days import long_date, long_moment
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    caution_box,
    data_table,
    facts,
    figure_line,
    marked,
    text,
    title_block,
)
from fleet.place_format import using
from inspections.errors import Refused
from inspections.records.signed_record import ShownRecord
from inspections.reports.proof import as_of, entries_of, mark_of, short
from inspections.reports.record_steps import in_words, measured_step, result_rows

CAUTIONS = (
    "This record states what was measured and judged on that day. It does not replace the checks before each use.",
    "The manufacturer's instructions and local codes come first; each limit names the rule that was applied.",
)


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
    record = ShownRecord(inspection.record, amendments)
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
    return [
        *_front(inspection, record, amendments, zone, paper),
        *_at_a_glance(record, paper),
        *_observed(record, paper),
        *_measured(record, zone, paper),
        *_left_out(record, zone, paper),
        *_instruments(record, paper),
        *_amendments(amendments, zone, paper),
        *_signatures(inspection, record, entries, zone, paper),
    ]


def _front(inspection, record, amendments, zone, paper):
    content = record.content
    machine, procedure = content["machine"], content["procedure"]
    identity = [
        ("Asset number", machine["asset_number"]),
        ("Model", machine["model"]),
        ("Serial", machine["serial"]),
        ("Built", machine["built_year"]),
        ("Site", machine["site"]),
        ("Area", machine["area"]),
        ("Procedure", f"{procedure['title']}, version {procedure['version']}"),
        ("Record", content["inspection"]),
        ("Signed", long_moment(record.signed_at.astimezone(zone))),
        ("Signed by", content["signed_by"]["name"]),
        ("Ambient pressure", f"{record.conditions_words['ambient']} absolute"),
        ("Temperature", record.conditions_words["temperature"]),
        *([("Rules", record.rule_set)] if record.rule_set else []),
        *([("Result", record.result["words"])] if record.result else []),
    ]
    figures = [(count, f"step{'' if count == 1 else 's'}: {word}") for word, count in record.counts]
    parts = [
        *title_block("Inspection record", f"{procedure['title']} of machine {machine['asset_number']}"),
        facts(identity, paper.width, columns=4),
        Spacer(1, 8),
        *([figure_line(figures, paper.width), Spacer(1, 8)] if figures else []),
    ]
    if not record.is_intact:
        warning = "The content does not match the digest that was signed. Do not rely on this record."
        parts += [caution_box([warning], paper.width, title="Altered"), Spacer(1, 8)]
    if record.result and not record.result["is_complete"]:
        untested = "; ".join(record.result["essential_not_tested"])
        words = f"These essential steps prove nothing: {untested}. The inspection settles no due date."
        parts += [caution_box([words], paper.width, title="Incomplete"), Spacer(1, 8)]
    if amendments:
        words = f"This record has {len(amendments)} amendment{'' if len(amendments) == 1 else 's'}, shown below."
        parts += [text(words, "alarm"), Spacer(1, 8)]
    return [*parts, caution_box(CAUTIONS, paper.width)]


def _at_a_glance(record, paper):
    rows = [row for step in record.measured for row in result_rows(step)]
    if not rows:
        return []
    head = ["Step", "Result", "Value ± U (95 %)", "Limit", "Decision", "Margin", "Conforms"]
    widths = [paper.width * part for part in (0.19, 0.16, 0.15, 0.15, 0.14, 0.11, 0.1)]
    note = "U is the expanded uncertainty at 95 %. Conforms: probability that the true value is within the limit."
    return [Heading("Summary of measurements"), text(note, "note"), data_table(head, rows, widths, numbers=(5, 6))]


def _observed(record, paper):
    rows = []
    for step in record.observed:
        instruction = step.content["item"]
        item = [text(step.title, "small-strong"), text(in_words(instruction), "note")]
        item += [text(sentence, "note") for sentence in (*step.repairs, *step.programs)]
        rows.append([item, step.values[0].text, _decision(step), step.content["source"] or "–"])
        rows += [[text(f"Amended: {each.correction}", "small-alarm"), "", "", ""] for each in step.amendments]
    if not rows:
        return []
    widths = [paper.width * part for part in (0.46, 0.1, 0.17, 0.27)]
    return [Heading("Checks"), data_table(["Item", "Found", "Decision", "Source"], rows, widths)]


def _decision(step):
    return marked(step.decision) if step.decision else "reported"


def _measured(record, zone, paper):
    parts = [CondPageBreak(220), Heading("Steps in detail")] if record.measured else []
    for step in record.measured:
        parts += measured_step(step, paper.width)
        for amendment in step.amendments:
            parts.append(_amendment(amendment, zone, paper))
    return parts


def _left_out(record, zone, paper):
    widths = [paper.width * 0.4, paper.width * 0.6]
    parts = []
    if record.not_tested:
        parts += [Heading("Not tested"), _not_tested(record, zone, paper)]
    if record.absent:
        rows = [[step.title, step.content["absence"]] for step in record.absent]
        parts += [Heading("Not applicable to this machine"), data_table(["Step", "Reason"], rows, widths)]
    return parts


def _not_tested(record, zone, paper):
    """The steps with their reasons; records from before authors were stored keep a table without them."""
    rows = [[step.title, _why_not_tested(step)] for step in record.not_tested]
    if not any(step.mark for step in record.not_tested):
        return data_table(["Step", "Reason"], rows, [paper.width * 0.4, paper.width * 0.6])
    rows = [[*row, _author(step.mark, zone)] for row, step in zip(rows, record.not_tested, strict=True)]
    widths = [paper.width * part for part in (0.34, 0.36, 0.3)]
    return data_table(["Step", "Reason", "Marked by"], rows, widths)


def _why_not_tested(step):
    """The reason, with what was replaced at the step or calls for it as left."""
    reason = step.content["not_tested_reason"]
    return in_words(" ".join([reason, *step.repairs])) if step.repairs else reason


def _author(mark, zone):
    return f"{mark.by}, {long_moment(mark.at.astimezone(zone))}" if mark else "–"


def _instruments(record, paper):
    rows = [
        [
            text(each["code"], "small-strong"),
            each["name"],
            each["serial"] or "–",
            each["certificate"],
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


def _signatures(inspection, record, entries, zone, paper):
    signed = [
        ["Signed", record.content["signed_by"]["name"], long_moment(record.signed_at.astimezone(zone))],
        [
            "Countersigned",
            str(inspection.countersigned_by or "not yet"),
            long_moment(inspection.countersigned_at.astimezone(zone)) if inspection.countersigned_at else "–",
        ],
    ]
    widths = [paper.width * part for part in (0.2, 0.45, 0.35)]
    digests = [
        text(f"SHA-256 of the signed content: {record.digest}", "note"),
        *[text(words, "note") for words in _place_in_chain(entries)],
        text(f"SHA-256 of the procedure version: {record.content['procedure']['digest']}", "note"),
        text("Signed by password in Bobbin. The signed content is stored with the record and does not change.", "note"),
    ]
    table = data_table(["", "Name", "When"], signed, widths)
    return [KeepTogether([Heading("Signatures"), table, Spacer(1, 4), *digests])]


def _place_in_chain(entries):
    """The position of the signature in the chain of its site; nothing for a record that no chain holds."""
    if not entries:
        return
    signed, *later = entries
    yield f"Entry {signed.sequence} of the chain of {signed.site}, SHA-256: {signed.digest}"
    before = f"entry {signed.sequence - 1}, SHA-256 {short(signed.previous)}" if signed.sequence > 1 else "no entry"
    after = ", ".join(f"{each.get_kind_display().lower()} {each.sequence} ({short(each.digest)})" for each in later)
    yield f"The entry before it: {before}." + (f" Entries about this record since: {after}." if after else "")
