"""The first two pages of a record: who, what, when, the results that decide, what was replaced, and who signed."""

from itertools import chain, pairwise

from reportlab.platypus import KeepTogether, Spacer

from fleet.days import long_moment
from fleet.documents import (
    Heading,
    caution_box,
    count_pages,
    data_table,
    facts,
    figure_line,
    marked_cell,
    text,
    title_block,
)
from inspections.bench.decision_words import gravity
from inspections.reports.proof import short
from inspections.reports.record_steps import in_words

CAUTIONS = (
    "This record states what was measured and judged on that day. It does not replace the checks before each use.",
    "The manufacturer's instructions and local codes come first; each limit names the rule that was applied.",
)
PAGES = 2
PASS = "pass"
FEWER_PASSES = (24, 12, 6, 0)  # how many plain passes to list where all of them do not fit


def front_pages(inspection, record, amendments, entries, zone, paper):
    """Return the front of the record. Plain passes are left to the annex where they do not fit on two pages.

    What is no plain pass is always listed, even if that takes a third page.
    """

    lines = _lines(record)

    def front(passes):
        return [
            *_identity(record, zone, paper),
            *_warnings(record, amendments, paper),
            *_deciding(lines, passes, paper),
            *_not_tested(record, zone, paper),
            *_replaced(record, zone, paper),
            *_signatures(inspection, record, entries, zone, paper),
            Spacer(1, 8),
            caution_box(CAUTIONS, paper.width),
        ]

    listed = sum(line.decision == PASS for line in lines)
    for passes in (listed, *(fewer for fewer in FEWER_PASSES if fewer < listed)):
        if count_pages(paper, front(passes)) <= PAGES:
            break
    return front(passes)


def _identity(record, zone, paper):
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
        *([("Oxygen supply", record.oxygen_words)] if record.oxygen_words else []),
        *([("Units", record.unit_words)] if record.unit_words else []),
        *([("Rules", record.rule_set)] if record.rule_set else []),
        *([("Result", record.result["words"])] if record.result else []),
        *([("Minutes of work", content["minutes"])] if "minutes" in content else []),
    ]
    figures = [(count, f"step{'' if count == 1 else 's'}: {word}") for word, count in record.counts]
    return [
        *title_block("Inspection record", f"{procedure['title']} of machine {machine['asset_number']}"),
        facts(identity, paper.width, columns=4),
        Spacer(1, 8),
        *([figure_line(figures, paper.width), Spacer(1, 8)] if figures else []),
    ]


def _warnings(record, amendments, paper):
    parts = []
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
    return parts


class Line:
    """One judged result on the front: its step, its words, and what sorts it."""

    def __init__(self, step, shown):
        self.step, self.shown = step, shown
        self.decision = str(shown.result.decision)

    @property
    def urgency(self):
        """Sorts what is no plain pass first, the gravest of it first, then the essential passes."""
        return (self.decision == PASS, gravity(self.decision), not self.step.content["is_essential"])

    def row(self, before):
        """The cells of its row; the title of the step is not repeated below itself."""
        title = "" if before and before.step is self.step else self.step.title
        value = self.step.content["item"] or self.shown.result.label
        found = self.step.values[0].text if self.step.is_observation else self.shown.full_value
        limit = "" if self.step.is_observation else self.shown.limit or "no limit"
        return [text(title, "small-strong"), value, found, limit, marked_cell(self.shown.decision)]


def _lines(record):
    lines = [Line(step, shown) for step in record.tested for shown in step.results if shown.decision]
    return sorted(lines, key=lambda line: line.urgency)


def _deciding(lines, passes, paper):
    if not lines:
        return []
    open_ones = [line for line in lines if line.decision != PASS]
    shown = [*open_ones, *(line for line in lines if line.decision == PASS)][: len(open_ones) + passes]
    left = len(lines) - len(shown)
    words = ["What is no plain pass comes first. U is the expanded uncertainty at 95 %."]
    if open_ones:
        words.append("A result that failed or was not proved opens a finding with the signature.")
    if left:
        words.append(
            f"{left} more result{'' if left == 1 else 's'}, all pass, {'is' if left == 1 else 'are'} in the annex."
        )
    widths = [paper.width * part for part in (0.24, 0.31, 0.16, 0.15, 0.14)]
    head = ["Step", "Result or check", "Value ± U, or answer", "Limit", "Decision"]
    table = data_table(head, [line.row(before) for before, line in pairwise([None, *shown])], widths, is_dense=True)
    return [Heading("Results that decide"), text(" ".join(words), "note"), table]


def _not_tested(record, zone, paper):
    """The steps with their reasons; records from before authors were stored keep a table without them."""
    if not record.not_tested:
        return []
    rows = [[step.title, _why_not_tested(step)] for step in record.not_tested]
    if not any(step.mark for step in record.not_tested):
        table = data_table(["Step", "Reason"], rows, [paper.width * 0.4, paper.width * 0.6])
    else:
        rows = [[*row, _author(step.mark, zone)] for row, step in zip(rows, record.not_tested, strict=True)]
        widths = [paper.width * part for part in (0.34, 0.36, 0.3)]
        table = data_table(["Step", "Reason", "Marked by"], rows, widths)
    return [Heading("Not tested"), table]


def _why_not_tested(step):
    """The reason, with what was replaced at the step or calls for it as left."""
    reason = step.content["not_tested_reason"]
    return in_words(" ".join([reason, *step.repairs])) if step.repairs else reason


def _author(mark, zone):
    return f"{mark.by}, {long_moment(mark.at.astimezone(zone))}" if mark else "–"


def _replaced(record, zone, paper):
    """The components that were replaced, with the identity of the old and the new one."""
    found = chain.from_iterable(step.content.get("replaced", ()) for step in record.steps)
    rows = [
        [
            text(one["label"], "small-strong"),
            _ids(one["removed"]),
            _ids(one["fitted"]),
            one["by"]["name"],
        ]
        for one in found
    ]
    if not rows:
        return []
    widths = [paper.width * part for part in (0.28, 0.26, 0.26, 0.2)]
    return [Heading("Components replaced"), data_table(["Component", "Removed", "Fitted", "By"], rows, widths)]


def _ids(component):
    known = ("serial", "lot", "part_number")
    words = [f"{name.replace('_', ' ')} {component[name]}" for name in known if component.get(name)]
    return ", ".join(words) or "not recorded"


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
        text(_how_signed(record), "note"),
    ]
    table = data_table(["", "Name", "When"], signed, widths)
    return [KeepTogether([Heading("Signatures"), table, Spacer(1, 4), *digests])]


def _how_signed(record):
    way = record.signed_with or "password"
    return f"Signed by {way} in Bobbin. The signed content is stored with the record and does not change."


def _place_in_chain(entries):
    """The position of the signature in the chain of its site; nothing for a record that no chain holds."""
    if not entries:
        return
    signed, *later = entries
    yield f"Entry {signed.sequence} of the chain of {signed.site}, SHA-256: {signed.digest}"
    before = f"entry {signed.sequence - 1}, SHA-256 {short(signed.previous)}" if signed.sequence > 1 else "no entry"
    after = ", ".join(f"{each.get_kind_display().lower()} {each.sequence} ({short(each.digest)})" for each in later)
    yield f"The entry before it: {before}." + (f" Entries about this record since: {after}." if after else "")
