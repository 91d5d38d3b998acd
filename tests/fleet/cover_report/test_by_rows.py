"""The report of today is the same from the current states and from the history."""

from fleet.cover_report import CoverFilter, build_report, select_machines, shortlists
from fleet.cover_report.queries import Unneeded
from fleet.models import CurrentStateRules
from tests.factories import TODAY, make_area, make_machine, make_model, make_person

ASKED = ({}, {"standing": "gap"}, {"standing": "doubt"}, {"feature": "ratio-protection", "standing": "gap"})


def reports():
    found = []
    for fields in ASKED:
        wanted, unneeded = CoverFilter(on=TODAY, today=TODAY, **fields), Unneeded()
        found.append(build_report(select_machines(wanted, None, unneeded), wanted, unneeded))
    return found, shortlists(make_person("manager"), TODAY)


def test_a_report_from_the_rows_is_that_from_the_history(db):
    area = make_area()
    one = make_model(features={"ratio-protection": "not fitted", "electronic-mixing": "not fitted"})
    two = make_model(
        features={"ratio-protection": "not fitted", "electronic-mixing": "fitted"}, gases=["oxygen", "air"]
    )
    three = make_model(
        features={"scavenging-breathing-size": "fitted", "o2-analyser": "not known"}, lacks=["scavenging"]
    )
    for model in (one, two, three, one):
        make_machine(model=model, area=area)
        make_machine(model=model)
    by_rows = reports()
    CurrentStateRules.objects.all().delete()
    assert by_rows == reports()
