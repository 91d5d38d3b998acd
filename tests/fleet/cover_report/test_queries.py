from dataclasses import replace

from fleet.catalogue import FEATURES
from fleet.cover_report import build_report, select_machines
from fleet.cover_report.criteria import CoverFilter
from fleet.cover_report.queries import FEW, Unneeded
from tests.factories import TODAY, make_machine, make_model


def totals(wanted):
    unneeded = Unneeded()
    return {
        total.feature.code: total
        for total in build_report(select_machines(wanted, None, unneeded), wanted, unneeded).totals
    }


def test_a_report_of_few_protections_counts_each_as_the_report_of_all_does(db):
    """The query for few features differs from that for many."""
    states = ("fitted", "not fitted", "not known")
    for shift in range(3):
        make_machine(model=make_model({code: states[(n + shift) % 3] for n, code in enumerate(FEATURES)}))
    wanted = CoverFilter(on=TODAY, today=TODAY)
    every = totals(wanted)
    assert len(every) > FEW
    for hazard in ("wrong-gas", "barotrauma"):
        few = totals(replace(wanted, hazard=hazard))
        assert 0 < len(few) <= FEW
        assert few == {code: every[code] for code in few}
