"""Files that are made to exhaust their reader are refused with a sentence, within the limits of a page."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.confined import AT_ONCE, run_confined
from fleet.register_file import MACHINES, Meanings, Settings, Unreadable, workbook_content
from inspections.reports.paper_text import paper_text
from tests.fleet.register_file import hostile

SAMPLES = hostile.small_samples()
PDFS = hostile.pdfs()
LIMITS = replace(AT_ONCE, cpu_s=30, wall_s=60.0, turns=None)  # a busy machine is slow; the sentences name the limit


def read_apart(data):
    return run_confined(
        "fleet.register_file.confined_reading:parse_apart",
        data,
        "machines",
        Settings(),
        limits=LIMITS,
        answer=lambda about, *_: Meanings() if about == "meanings" else {},
    )


@pytest.mark.parametrize("name", SAMPLES)
def test_a_file_that_takes_more_than_it_weighs_is_refused_with_what_is_accepted(name):
    data, part = SAMPLES[name]
    (problem,) = read_apart(data).problems
    assert part in problem.message
    assert problem.accepted


@pytest.mark.parametrize("name", [name for name in PDFS if name != "millions of words"])
def test_a_pdf_that_takes_more_than_it_weighs_is_no_record(name):
    keywords, lines, _ = run_confined("inspections.reports.paper_text:paper_text", PDFS[name], limits=LIMITS)
    assert lines == []


def test_a_pdf_of_too_many_pages_is_refused_with_their_number():
    assert "100,000 pages" in paper_text(PDFS["one page 100,000 times"])[2]


@pytest.mark.parametrize(
    ("limit", "value", "make", "reached"),
    [
        ("MAX_MERGES", 20, hostile.merged, 20),
        ("MAX_MERGED_ROWS", 20, hostile.merged, 20),
        ("MAX_COLUMNS", 20, lambda width: hostile.wide_rows(1, width), 20),
        ("LAST_ROW", 20, hostile.far_row, 20),
        ("MAX_OTHER_ELEMENTS", 20, hostile.many_styles, 18),  # beside the root and the list
        ("MAX_DEPTH", 20, hostile.nested, 18),
        ("MAX_ELEMENTS", 100, hostile.empty_strings, None),  # two for each, beside those of the rest
    ],
)
def test_each_limit_lets_through_what_reaches_it_and_refuses_more(monkeypatch, limit, value, make, reached):
    monkeypatch.setattr(workbook_content, limit, value)
    fitting = [count for count in range(3, 50) if counts(make(count))]
    assert fitting == list(range(3, fitting[-1] + 1))
    assert fitting[-1] == (reached or fitting[-1]) < 49


def counts(data):
    try:
        with hostile.opened(data) as archive:
            return workbook_content.count_content(archive)
    except Unreadable as unreadable:
        assert unreadable.problem.accepted
        return None


@given(
    cells=st.dictionaries(
        st.tuples(st.integers(2, 60), st.integers(2, 12)), st.integers(0, 99), min_size=1, max_size=25
    ),
    merges=st.lists(st.tuples(st.integers(1, 12), st.integers(2, 60), st.integers(1, 9)), max_size=6),
)
@settings(max_examples=40)
def test_what_the_count_says_of_a_sheet_is_what_the_sheet_holds(cells, merges):
    letters = "ABCDEFGHIJKL"
    rows = {}
    for (row, column), value in sorted(cells.items()):
        rows.setdefault(row, []).append(f'<c r="{letters[column - 1]}{row}"><v>{value}</v></c>')
    lines = [f'<row r="{row}">{"".join(inner)}</row>' for row, inner in rows.items()]
    ranges = [f'<mergeCell ref="{letters[c - 1]}{top}:{letters[c - 1]}{top + more}"/>' for c, top, more in merges]
    data = hostile.workbook([hostile.HEADER, *lines], after=ranges)
    with hostile.opened(data) as archive:
        content = workbook_content.count_content(archive)["xl/worksheets/sheet1.xml"]
    assert content.last_row == max(rows)
    assert content.merges == [(c, top, top + more) for c, top, more in merges]


def test_a_kind_of_file_is_the_same_object_in_the_process_that_asked():
    assert read_apart(b"asset number\nM-1\n").kind is MACHINES
