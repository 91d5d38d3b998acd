import pytest

from fleet.register_file.pasted import MOST_LINES, pasted_lines

COLUMNS = (("site", "hospital"), ("area", "location"), ("minimum",))


@pytest.mark.parametrize("sign", ["\t", ";", ","])
def test_cells_are_parted_by_tab_semicolon_or_comma(sign):
    lines, problems = pasted_lines(sign.join(("North", "Theatre 1", "2")) + "\n\nSouth\n", COLUMNS)
    assert [(line.number, line.cells) for line in lines] == [(1, ("North", "Theatre 1", "2")), (3, ("South", "", ""))]
    assert problems == []


def test_a_header_is_left_out_and_a_site_of_that_name_is_not():
    assert [line.cells[0] for line in pasted_lines("Hospital;Location\nNorth;A\n", COLUMNS)[0]] == ["North"]
    assert [line.cells[0] for line in pasted_lines("Hospital of North;A\n", COLUMNS)[0]] == ["Hospital of North"]


def test_too_many_cells_name_the_line_and_what_is_accepted():
    _, problems = pasted_lines("North;A;1;x\n", COLUMNS)
    assert problems == [(1, "has 4 cells. Accepted: 3 at most: site, area, minimum.")]


def test_too_many_lines_are_refused_as_a_whole():
    lines, problems = pasted_lines("A;B\n" * (MOST_LINES + 1), COLUMNS)
    assert lines == [] and "2,001 lines are too many" in problems[0][1]
