"""Files of instruments as rows of texts: delimiter, decimal sign and header by the shape; hostile files refused."""

import csv
import io
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.register_file import Unreadable, xlsx_bytes
from fleet.register_file.plain_rows import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, plain_rows

WORDS = st.text(string.ascii_letters, min_size=1, max_size=8)
DIGITS = st.decimals(min_value=0, max_value=9999, places=2)


def written(header, rows, delimiter):
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter).writerows([header, *rows])
    return text.getvalue().encode()


@given(
    header=st.lists(WORDS, min_size=2, max_size=5, unique_by=str.lower),
    numbers=st.lists(st.lists(DIGITS, min_size=5, max_size=5), min_size=1, max_size=8),
    signs=st.sampled_from([(";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", ".")]),
)
def test_every_cell_comes_back_with_the_delimiter_and_decimal_sign_of_the_file(header, numbers, signs):
    delimiter, decimal = signs
    rows = [[str(one).replace(".", decimal) for one in row[: len(header)]] for row in numbers]
    read = plain_rows(written(header, rows, delimiter))
    assert read.labels == tuple(header) and read.decimal == decimal
    assert [cells for _, cells in read.rows] == [tuple(row) for row in rows]
    assert [number for number, _ in read.rows] == list(range(2, len(rows) + 2))


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_with_what_is_accepted(data):
    try:
        read = plain_rows(data)
    except Unreadable as unreadable:
        assert unreadable.problem.message and unreadable.problem.accepted
        return
    assert all(len(cells) == len(read.labels) for _, cells in read.rows)
    assert len(set(read.labels)) == len(read.labels)


@pytest.mark.parametrize(
    ("text", "labels", "first", "decimal"),
    [
        ("Pressure (kPa);Flow\n310,5;4,0\n", ("Pressure (kPa)", "Flow"), ("310,5", "4,0"), ","),
        ("Pressure\n4,1\n4,2\n", ("Pressure",), ("4,1",), ","),
        ("45.0\t4.0\n35\t4\n", ("Column 1", "Column 2"), ("45.0", "4.0"), "."),
        ("S;77\nD;2026-11-02\n\nN;Time;P\n1;10:02:03;45 kPa\n", ("N", "Time", "P"), ("1", "10:02:03", "45 kPa"), ""),
        ("sep=,\na,b\n1,2\n", ("a", "b"), ("1", "2"), ""),
        ("P;P;\n1;2;3\n", ("P", "P (2)", "Column 3"), ("1", "2", "3"), ""),
        ('"P, at the outlet",F\n"1","2"\n', ("P, at the outlet", "F"), ("1", "2"), ""),
        ("P;F\n=1+1;'=2\n", ("P", "F"), ("=1+1", "=2"), ""),
    ],
)  # fmt: skip
def test_a_file_is_split_by_its_shape(text, labels, first, decimal):
    read = plain_rows(text.encode())
    assert (read.labels, read.rows[0][1], read.decimal) == (labels, first, decimal)


def test_a_workbook_is_read_like_a_csv_file():
    read = plain_rows(xlsx_bytes("Log", ["P", "F"], [[45.5, 4], [35, 3.25]]))
    assert read.labels == ("P", "F") and [cells for _, cells in read.rows] == [("45.5", "4"), ("35", "3.25")]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The file is empty"),
        (b"  \n\n", "The file is empty"),
        (b"P;F\n", "no row of values"),
        (b"P;F\n1;\0", "zero bytes"),
        (b"x" * (MAX_BYTES + 1), "bytes"),
        (b"P\n" + b"1\n" * (MAX_ROWS + 1), "rows"),
        ((";".join(["P"] * (MAX_COLUMNS + 1)) + "\n1;2\n").encode(), "cells"),
        ((";".join(["P"] * 5000) + "\n1;2\n").encode(), "cells"),
        (b"%PDF-1.7", "is a PDF"),
        (b"<html><table>", "web page"),
        (b"4,1\n4,2\n", "can be read as one number or as two cells"),
        (b'P;F\n"1;2\n', "cannot be split"),
        (b"PK\x03\x04 no workbook", "damaged"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_a_sentence(data, words):
    with pytest.raises(Unreadable, match=words):
        plain_rows(data)
