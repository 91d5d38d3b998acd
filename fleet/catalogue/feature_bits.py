"""The safety features of a machine as whole numbers, one bit for each feature, and their standings in the same way.

The rule is `judge_feature`; here it is asked once for each set of states that occurs, and remembered.
"""

import hashlib
from collections.abc import Iterable
from functools import cache, lru_cache

from fleet.catalogue import FEATURES, Equipment
from fleet.catalogue.gaps import ESSENTIAL, Standing, judge_feature

MOST_FEATURES = 63  # bits of a column of whole numbers, which has a sign. Source: SQL bigint
BIT = {code: 1 << place for place, code in enumerate(sorted(FEATURES))}
VERSION = 1  # raised when stored rows would be computed otherwise, although the catalogue stays as it is
KEPT = 50_000


def mask_of(codes: Iterable[str]) -> int:
    """Return the number with the bits of these features; codes that the catalogue lacks have none."""
    mask = 0
    for code in codes:
        mask |= BIT.get(code, 0)
    return mask


def codes_in(mask: int) -> list[str]:
    """Return the codes of the features whose bits are set, in alphabetical order."""
    return [code for code, bit in BIT.items() if mask & bit]


ESSENTIAL_MASK = mask_of(ESSENTIAL)


@lru_cache(KEPT)
def standings(equipment: Equipment, fitted: int, not_fitted: int) -> dict[Standing, int]:
    """Return, for each standing, the features that have it on a machine with these recorded states."""
    states = dict.fromkeys(codes_in(fitted), "fitted") | dict.fromkeys(codes_in(not_fitted), "not fitted")
    found = dict.fromkeys(Standing, 0)
    for code, feature in FEATURES.items():
        found[judge_feature(feature, states, equipment).standing] |= BIT[code]
    return found


@cache
def rules_digest() -> str:
    """Return a short name of what decides the standings; rows that bear another are not used."""
    told = [
        (code, str(one.feature_class), *map(str, one.needs), *one.fulfilled_by)
        for code, one in sorted(FEATURES.items())
    ]
    return hashlib.sha256(repr((VERSION, told)).encode()).hexdigest()[:16]
