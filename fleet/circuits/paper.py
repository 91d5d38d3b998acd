"""The gas circuit of a machine on paper: the drawing, a description in words, its problems and past changes."""

from reportlab.platypus import KeepTogether, PageBreak, Spacer

from fleet.circuits.state_view import view_of
from fleet.days import long_date
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    bullets,
    caution_box,
    data_table,
    facts,
    picture,
    text,
    title_block,
)
from fleet.models import CircuitChange
from fleet.place_format import current, quantities_in_words

CAUTIONS = (
    "Computed from the records of this machine, with steady flows. It does not replace a check before use.",
    "The manufacturer's instructions come first. Alter a machine only by them or by agreement, then test it.",
    "A safety feature in the drawing may not work: only an inspection shows that.",
)
MOST_CHANGES = 60
DRAWING_WIDTH = 1100  # layout width in points before the drawing is scaled to the sheet
CIRCUIT_IN_WORDS = "Drawing of the gas circuit with its pressures. The tables of this paper hold the same values."
HEADING_ROOM = 30


def write_circuit_paper(machine, found, choice, *, day, units, colours, made):
    """Return the circuit as a PDF. `found` is a MachineCircuit that has a circuit."""
    paper = Paper(
        title="Gas circuit",
        reference=f"{machine}, as of {long_date(day)}",
        subject=f"Gas circuit of machine {machine}",
        made=made,
    )
    view = view_of(found, choice, units=units, colours=colours, width=DRAWING_WIDTH)
    front = [*_front(machine, found, view, day, paper), *_measured(found), *_changes(machine, day, paper)]
    return build_pdf(paper, [*front, *_drawing(view, paper), *_words(view, paper)])


def _front(machine, found, view, day, paper):
    lead = f"{machine.model}, {machine.area.name}, {machine.site.name}."
    told = [
        ("Circuit", found.basis),
        ("Shown", view.title),
        ("Components", str(len(found.circuit.components))),
        ("As of", long_date(day)),
    ]
    story = [
        *title_block(f"Gas circuit of {machine}", lead),
        facts(told, paper.width, columns=4),
        Spacer(1, 6),
        caution_box(CAUTIONS, paper.width),
        Spacer(1, 6),
    ]
    if view.reason:
        story += [text(in_place(view.reason), "alarm"), Spacer(1, 4)]
    if found.problems:
        story += [Heading("Problems"), *bullets([str(problem) for problem in found.problems])]
    if view.alarms:
        story += [Heading("Alarms"), *bullets([in_place(told.words) for told in view.alarms])]
    return story


def _drawing(view, paper):
    """Return the drawing as wide as the sheet, or smaller if it would be too high for one."""
    drawing = view.drawing
    scale = min(paper.width / drawing.width, (paper.height - HEADING_ROOM) / drawing.height)
    drawing.scale(scale, scale)
    drawing.width, drawing.height = drawing.width * scale, drawing.height * scale
    return [KeepTogether([Heading(view.title), picture(drawing, CIRCUIT_IN_WORDS)])]


def _words(view, paper):
    rows = [
        [
            line.component,
            line.lane,
            line.pressure,
            line.flow,
            line.content,
            text(line.note, "small-alarm" if line.is_urgent else "small"),
        ]
        for line in view.lines
    ]
    widths = [paper.width * share for share in (0.23, 0.13, 0.12, 0.12, 0.2, 0.2)]
    head = ["Component", "Lane", "Pressure", "Flow", "Gas", "Note"]
    return [PageBreak(), Heading("Components"), data_table(head, rows, widths, is_dense=True)]


def _measured(found):
    if not found.measured:
        return []
    lines = [f"{component}: {what} {value} ({words})" for component, what, value, words in found.measured_lines]
    return [Heading("Measured on this machine"), *bullets(lines)]


def _changes(machine, day, paper):
    changes = CircuitChange.objects.filter(machine=machine, changed_on__lte=day).select_related("by", "undone_by")
    rows = [[long_date(one.changed_on), _told(one), one.evidence, str(one.by or "")] for one in changes[:MOST_CHANGES]]
    if not rows:
        return []
    widths = [paper.width * share for share in (0.13, 0.47, 0.24, 0.16)]
    return [Heading("Changes"), data_table(["Date", "Change", "Evidence", "Entered by"], rows, widths)]


def _told(change):
    undone = f" Undone by {change.undone_by or 'an unnamed person'}: {change.undone_reason}" if change.undone_at else ""
    return f"{change.get_verb_display()}: {change.words}.{undone}"


def in_place(sentence):
    return quantities_in_words(sentence, current())
