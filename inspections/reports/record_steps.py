"""One measured step of a record on paper: readings as read, results against their limits, curves."""

from reportlab.platypus import KeepTogether, Spacer

from fleet.documents import Heading, data_table, marked, marked_cell, picture, side_by_side, text
from fleet.place_format import current, quantities_in_words
from inspections.drawing import curve, limit_bar
from inspections.reports.record_notes import corrected, corrected_elsewhere

BAR_TEXT = 7.6
CURVE_TEXT = 8
MOST_BESIDE = 30  # rows of a table that is set beside another
LONGEST_BESIDE = 150  # letters of one text of such a table
ROW_NUMBER = 30


def result_rows(step):
    """Return one row for each result of a step: step, result, value, limit, decision, margin, probability."""
    rows = []
    for index, shown in enumerate(step.results):
        rows.append(
            [
                text(step.title if index == 0 else "", "small-strong"),
                shown.result.label,
                shown.full_value,
                shown.limit or "no limit",
                marked_cell(shown.decision) if shown.decision else "reported",
                shown.margin or "–",
                likelihood(shown),
            ]
        )
    return rows


def likelihood(shown):
    """Return the probability of conformity, short enough for a column."""
    return shown.probability.replace("above", ">").replace("below", "<") or "–"


def measured_step(step, width, zone):
    """Return the parts of a step, its width in points; times are shown in `zone`."""
    content = step.content
    head = [Heading(step.title, level=1, key=f"step-{step.position}")]
    if content["component"]:
        component = content["component"]
        ids = [
            f"serial {component['serial']}" if component["serial"] else "",
            f"lot {component['lot']}" if component["lot"] else "",
        ]
        head.append(text(", ".join(filter(None, [component["label"], *ids])), "note"))
    if content["instruction"]:
        head.append(text(in_words(content["instruction"]), "small"))
    words = [
        f"Source: {content['source']}." if content["source"] else "",
        "Essential." if content["is_essential"] else "",
    ]
    words.append(content.get("left_out", ""))
    if any(words):
        head.append(text(" ".join(filter(None, words)), "note"))
    return [
        KeepTogether([*head, *(text(in_words(words), "small") for words in step.repairs), Spacer(1, 3)]),
        *_readings(step, width, zone),
        *corrected_elsewhere(step, zone),
        *(text(sentence, "note") for sentence in (*step.programs, *step.typed_later, *step.questions)),
        *(part for shown in step.results for part in _result(shown, width)),
        *_curves(step, width),
        *(text(in_words(remark), "note") for remark in step.evaluation.remarks),
        Spacer(1, 6),
    ]


def _readings(step, width, zone):
    rows = [[label, in_words(words), ""] for label, words in step.choices]
    rows += [[each.label, _value(each.text, each.corrections, zone), each.instrument or "–"] for each in step.values]
    parts = []
    if rows:
        parts.append(data_table(["As read", "", "Instrument"], rows, [width * 0.5, width * 0.3, width * 0.2]))
    return [*parts, *_reading_tables(step.tables, width, zone)]


def _value(words, corrections, zone, style="small"):
    """Return a value as text, or with what it was before below it."""
    return [text(words, style), *corrected(corrections, zone)] if corrections else words


def _reading_tables(tables, width, zone):
    """Set short tables beside each other, long ones below each other."""
    if len(tables) == 2 and all(map(_fits_beside, tables)):
        half = width / 2
        left, right = (_reading_table(table, half - 12, zone) for table in tables)
        return [KeepTogether([Spacer(1, 4), side_by_side(left, right, [half, half])])]
    return [part for table in tables for part in (Spacer(1, 4), *_reading_table(table, width, zone))]


def _fits_beside(table):
    """Whether a table is short and its texts are, too: what stands beside another table does not split over pages."""
    if len(table.rows) > MOST_BESIDE or len(table.columns) > 3:
        return False
    cells = [cell for _, row in table.rows for cell in row if cell is not None]
    return max(map(len, map(str, (table.label, table.instruments or "", *table.columns, *cells)))) <= LONGEST_BESIDE


def _reading_table(table, width, zone):
    caption = f"{table.label}, read with {table.instruments}" if table.instruments else table.label
    each = min((width - ROW_NUMBER) / max(len(table.columns), 1), 110)
    rows = [
        [row, *("–" if cell is None else _value(cell, cell.corrections, zone, "number") for cell in cells)]
        for row, cells in table.rows
    ]
    numbers = range(1, len(table.columns) + 1)
    widths = [ROW_NUMBER, *[each] * len(table.columns)]
    grid = data_table(["Row", *table.columns], rows, widths, numbers=numbers, is_dense=True)
    return [text(caption, "small-strong"), grid]


def _result(shown, width):
    """A result: its limit bar at the left, its words at the right, kept together."""
    result, limit = shown.result, shown.result.limit
    words = [text(result.label, "small-strong")]
    words.append(marked(shown.decision) if shown.decision else text("reported, not judged", "small"))
    words.append(text(f"{shown.value} {shown.full_uncertainty}", "small"))
    if shown.reason:
        words.append(text(in_words(shown.reason[:1].upper() + shown.reason[1:]), "small"))
    if limit:
        words.append(text(f"Limit: {shown.limit}", "small"))
        edition = f", edition {limit.edition}" if limit.edition.strip("-– ") else ""
        basis = f" ({shown.basis})" if shown.basis else ""
        words.append(text(f"Rule: {limit.title}. Source: {limit.source}{edition}{basis}.", "note"))
        words += [text(limit.note, "note")] if limit.note else []
        words += [text(shown.confirmation, "note")] if shown.confirmation else []
    judged = [_where(shown), f"probability of conformity {shown.probability}"]
    if shown.probability:
        words.append(text(", ".join(filter(None, judged)), "small"))
    words += [text(in_words(result.convention), "note")] if result.convention else []
    words += [text(in_words(result.remark), "note")] if result.remark else []
    said = f"Limit bar of {result.label}: {shown.value} {shown.full_uncertainty}; {shown.limit or 'no limit'}."
    bar = picture(limit_bar(result, width * 0.52, BAR_TEXT), said)
    return [KeepTogether([Spacer(1, 4), side_by_side(bar, words, [width * 0.56, width * 0.44])])]


def _where(shown):
    """Return “Margin 2.3 psi inside” or “10 psi above the limit”."""
    return f"Margin {shown.margin}" if shown.margin.endswith("inside") else shown.margin


def in_words(sentence):
    return quantities_in_words(sentence, current())


def _curve_in_words(shown):
    return f"Curve: {shown.curve.title}. Its readings are in the table of this step."


def _curves(step, width):
    parts = []
    for shown in step.curves:
        drawing = picture(curve(shown.curve, width, width * 0.42, CURVE_TEXT), _curve_in_words(shown))
        parts.append(KeepTogether([text(shown.curve.title, "small-strong"), drawing, Spacer(1, 4)]))
    return parts
