import pytest

from fleet.register_file import MACHINES, Meanings, Settings, parse_register
from fleet.register_file.meanings import is_placeholder, look_of

SAID = Meanings(
    {
        ("site", "", "n. hosp"): "north",
        ("area", "north", "th 1"): "Theatre 1",
        ("serial", "", "-"): "",
        ("serial", "", "na"): None,
        ("duty", "", "in gebruik"): "in service",
        ("in_use_from", "", "unknown"): "1999-01-01",
    }
)
HEADER = b"asset_number,serial,site,area,duty,in_use_from\n"


def values(*rows, settings=None):
    data = HEADER + b"\n".join(rows) + b"\n"
    parsed = parse_register(data, MACHINES, settings or Settings(), meanings=SAID)
    assert parsed.problems == ()
    return [dict(row.values) for row in parsed.rows]


def test_words_of_the_file_are_read_as_words_of_the_register():
    [row] = values(b"A-1,-,N.  HOSP,Th 1,in gebruik,unknown")
    assert "serial" not in row and (row["site"], row["area"], row["duty"]) == ("north", "Theatre 1", "in service")
    assert row["in_use_from"].isoformat() == "1999-01-01"


def test_an_area_means_so_within_its_site_alone():
    assert [row["area"] for row in values(b"A-1,1,north,Th 1,,", b"A-2,2,south,Th 1,,")] == ["Theatre 1", "Th 1"]


def test_a_value_that_is_right_stays_as_it_is_written():
    assert values(b"A-1,Na,,,,")[0]["serial"] == "Na" and SAID.confirms("serial", "NA")
    assert not SAID.confirms("serial", "-") and not SAID.confirms("serial", "S-1")


def test_a_meaning_that_leads_back_to_itself_ends():
    circle = Meanings({("site", "", "a"): "b", ("site", "", "b"): "a"})
    assert circle.read("site", "a") in ("a", "b")


def test_rows_are_left_out_or_alone_read_by_their_number():
    rows = (b"A-1,1,,,,", b"A-1,1,,,,", b"A-3,3,,,,")
    assert [row["asset_number"] for row in values(*rows, settings=Settings(left_out=[3]))] == ["A-1", "A-3"]
    assert [row["asset_number"] for row in values(*rows, settings=Settings(only=[4]))] == ["A-3"]


@pytest.mark.parametrize("text", ["-", "N/A", "unknown", "?", "0000", "Not known.", " x "])
def test_a_placeholder_is_known(text):
    assert is_placeholder(text)


@pytest.mark.parametrize("text", ["S-1", "0042", "XA", "1"])
def test_a_short_number_is_no_placeholder(text):
    assert not is_placeholder(text)


def test_numbers_that_look_the_same_on_a_plate_have_one_look():
    assert {look_of(text) for text in ("SN O1I-2", "sn0112", "SN-0 1 L2")} == {"SN0112"}
    assert look_of("SN112") != look_of("SN0112")
