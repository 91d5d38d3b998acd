"""A fleet small enough to count by hand.

                           ratio protection   exclusion    outlet retention   scavenging of breathing size
North  A-1 three-gas       not fitted         not fitted   not fitted         fitted (a gap)
North  A-2 three-gas       fitted (retrofit)  not fitted   not known          not fitted
South  A-3 oxygen and air  does not apply     fitted       fitted             not recorded
South  A-4 electronic      replaced           fitted       fitted             not fitted
South  A-5 retired         not fitted
"""

from datetime import date

import pytest

from fleet.actions import record_feature_state, retire_machine
from tests.factories import NOON, make_area, make_machine, make_model, make_site

RETROFITTED = date(2020, 6, 1)


@pytest.fixture
def fleet(db):
    north, south = make_site(name="North"), make_site(name="South")
    theatre, suite = make_area(north, name="Theatre 1"), make_area(south, name="Suite")
    old = make_model(
        name="Three",
        features={
            "ratio-protection": "not fitted",
            "vaporizer-exclusion": "not fitted",
            "outlet-retention": "not fitted",
            "scavenging-breathing-size": "fitted",
        },
    )
    plain = make_model(
        name="Two",
        gases=["oxygen", "air"],
        features={
            "ratio-protection": "not fitted",
            "vaporizer-exclusion": "fitted",
            "outlet-retention": "fitted",
        },
    )
    mixing = make_model(
        name="Mixer",
        features={
            "ratio-protection": "not fitted",
            "electronic-mixing": "fitted",
            "vaporizer-exclusion": "fitted",
            "outlet-retention": "fitted",
            "scavenging-breathing-size": "not fitted",
        },
    )
    machines = {
        "A-1": make_machine(asset_number="A-1", model=old, area=theatre),
        "A-2": make_machine(asset_number="A-2", model=old, area=theatre),
        "A-3": make_machine(asset_number="A-3", model=plain, area=suite),
        "A-4": make_machine(asset_number="A-4", model=mixing, area=suite),
        "A-5": make_machine(asset_number="A-5", model=old, area=suite),
    }
    common = {"from_date": RETROFITTED, "by": None, "at": NOON}
    second = machines["A-2"]
    record_feature_state(second, "ratio-protection", "fitted", evidence="retrofit", **common)
    record_feature_state(second, "outlet-retention", "not known", evidence="seen", **common)
    record_feature_state(second, "scavenging-breathing-size", "not fitted", evidence="retrofit", **common)
    retire_machine(machines["A-5"], by=None, at=NOON, reason="Worn out")
    return machines
