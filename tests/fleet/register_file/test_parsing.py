from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.register_file import COMPONENTS, MACHINES, MAX_BYTES, MAX_ROWS, Settings, parse_register, register_text
from fleet.register_file.columns import COLUMNS
from fleet.register_file.synonyms import plain_name

HEADER = "asset_number,serial,model,site,area,built_year,in_use_from,duty,ratio-protection"
ROW = "A-1,S 1,norrfell-3,north,Theatre 1,1984,1985-03-01,in service,not fitted"


def parse(*lines):
    return parse_register("\n".join(lines).encode())


def only_problem(parsed):
    assert len(parsed.problems) == 1, parsed.problems
    return parsed.problems[0]


def test_a_row_is_read_with_the_type_of_each_column():
    parsed = parse(HEADER, ROW)
    assert parsed.problems == ()
    assert parsed.rows[0].number == 2
    assert parsed.rows[0].values["built_year"] == 1984
    assert parsed.rows[0].values["in_use_from"] == date(1985, 3, 1)
    assert parsed.rows[0].values["ratio-protection"] == "not fitted"


def test_a_blank_cell_says_nothing():
    parsed = parse(HEADER, "A-1,,,,,,,,")
    assert dict(parsed.rows[0].values) == {"asset_number": "A-1"}


def test_a_byte_order_mark_is_tolerated():
    assert parse_register(b"\xef\xbb\xbf" + f"{HEADER}\n{ROW}".encode()).problems == ()


def test_blank_rows_are_passed_over_and_still_counted():
    assert [row.number for row in parse(HEADER, ",,,,,,,,", "", ROW).rows] == [4]


def test_a_name_with_a_comma_stands_in_quotation_marks():
    parsed = parse(HEADER, ROW.replace("Theatre 1", '"Theatre 1, east"'))
    assert parsed.rows[0].values["area"] == "Theatre 1, east"


@pytest.mark.parametrize(
    ("column", "cell", "accepted"),
    [
        ("built_year", "84", "1994"),
        ("built_year", "1984.0", "1994"),
        ("built_year", "=1984", "1994"),
        ("built_year", "1899", "1900 to 2100"),
        ("built_year", "١٩٨٤", "four digits"),
        ("in_use_from", "1985-02-30", "year-month-day"),
        ("duty", "broken", "in service, withdrawn, retired"),
        ("ratio-protection", "n/a", "not fitted (no, n, 0"),
        ("serial", "S" * 61, "at most 60 characters"),
    ],
)
def test_a_cell_that_cannot_be_read_is_told_by_row_column_value_and_what_is_accepted(column, cell, accepted):
    cells = dict(zip(HEADER.split(","), ROW.split(","), strict=True)) | {column: cell}
    problem = only_problem(parse(HEADER, ROW, ",".join(cells.values()).replace("A-1", "A-2")))
    assert (problem.row, problem.column, problem.value) == (3, column, cell)
    assert accepted in problem.accepted


def test_every_problem_is_told_not_only_the_first():
    parsed = parse(HEADER, ROW.replace("1984", "84").replace("not fitted", "nope"), "A-1,,,,,x,,,")
    assert [(p.row, p.column) for p in parsed.problems] == [
        (2, "built_year"),
        (2, "ratio-protection"),
        (3, "built_year"),
        (3, "asset_number"),
    ]


def test_an_asset_number_that_stands_twice_names_the_first_row():
    problem = only_problem(parse(HEADER, ROW, ROW.replace("A-1", "a-1")))
    assert (problem.row, problem.column) == (3, "asset_number")
    assert "row 2" in problem.message


def test_a_row_without_an_asset_number_is_a_problem():
    problem = only_problem(parse(HEADER, ROW.replace("A-1", "")))
    assert (problem.row, problem.column, problem.message) == (2, "asset_number", "is missing.")


@pytest.mark.parametrize("row", ["A-1,S 1", ROW + ",more"])
def test_a_row_of_another_width_than_the_header_is_a_problem(row):
    problem = only_problem(parse(HEADER, row))
    assert problem.row == 2
    assert "the header has 9" in problem.message


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n\n", "empty"),
        (b"asset_number,note\nA-1,\0", "zero bytes"),
        (b"%PDF-1.7 asset_number", "a PDF"),
        (b"<html><table><tr><td>asset_number", "a web page"),
        (b'asset_number,serial\nA-1,"open', "cannot be split"),
        (b"asset_number,serial\n", "lists no machine"),
    ],
)
def test_a_file_that_cannot_be_read_as_a_whole_says_why(data, told):
    parsed = parse_register(data)
    assert told in only_problem(parsed).message
    assert parsed.rows == ()


def test_the_row_of_a_byte_that_the_said_encoding_lacks_is_told():
    data = b"asset_number,note\nA-1,good\nA-2,caf\xe9\n"
    assert "row 3" in only_problem(parse_register(data, settings=Settings(encoding="utf-8"))).message


@pytest.mark.parametrize(("header", "told"), [("asset_number,colour", "“colour”"), ("asset_number,", "(column 2)")])
def test_a_column_that_is_not_known_is_asked_for_and_left_out_only_when_somebody_says_so(header, told):
    data = f"{header}\nA-1,red".encode()
    (question,) = parse_register(data).open_questions
    assert (question.about, told in question.text) == ("columns", True)
    said = Settings(columns={told.strip("“”"): ""})
    parsed = parse_register(data, settings=said)
    assert (parsed.questions, parsed.columns, len(parsed.rows)) == ((), ("asset_number",), 1)


def test_a_column_that_stands_twice_is_asked_for():
    (question,) = parse("asset_number,serial,Serial", "A-1,1,2").open_questions
    assert "“Serial”" in question.text


def test_headers_that_nobody_knows_are_asked_for():
    assert [q.about for q in parse("a,b", "1,2").open_questions] == ["columns"] * 3


def test_a_file_with_too_many_rows_is_refused():
    rows = [f"A-{number}" for number in range(MAX_ROWS + 1)]
    assert "more than 10,000 rows" in only_problem(parse("asset_number", *rows)).message
    assert parse("asset_number", *rows[:-1]).problems == ()


def test_a_file_that_is_too_large_is_refused():
    assert "bytes" in only_problem(parse_register(b"a" * (MAX_BYTES + 1))).message


@given(st.binary(max_size=200))
def test_no_bytes_whatever_make_the_parser_raise(data):
    parsed = parse_register(data)
    assert parsed.problems or parsed.rows or parsed.open_questions


TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Cn"), blacklist_characters="\ufffd"), max_size=40).map(
    str.strip
)


@given(asset=TEXT.filter(bool), serial=TEXT, state=st.sampled_from(COLUMNS["ratio-protection"].words))
def test_what_is_written_reads_back_as_it_was(asset, serial, state):
    text = register_text([{"asset_number": asset, "serial": serial, "ratio-protection": state}])
    parsed = parse_register(text.encode())
    assert parsed.problems == ()
    written = {"asset_number": asset, "serial": serial, "ratio-protection": state}
    assert dict(parsed.rows[0].values) == {name: value for name, value in written.items() if value}


@pytest.mark.parametrize(
    ("kind", "column", "header"),
    [
        (MACHINES, "duty", "duty"),
        (MACHINES, "duty", "Status"),
        (MACHINES, "serial", "Manufacturer's serial number"),
        (COMPONENTS, "maker_part", "maker_part"),
        (COMPONENTS, "maker_part", "Manufacturer's part number"),
    ],
)
def test_a_header_of_an_export_and_the_words_of_the_pages_name_the_same_column(kind, column, header):
    assert kind.names[plain_name(header)] == column


@pytest.mark.parametrize("written", ["withdrawn", "Withdrawn from use", "out of use", "out of service"])
def test_a_withdrawn_machine_is_read_by_its_new_word_and_by_the_old_ones(written):
    (row,) = parse(HEADER, ROW.replace("in service", written)).rows
    assert row.values["duty"] == "withdrawn"
