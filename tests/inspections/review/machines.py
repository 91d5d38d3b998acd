"""Facts of a machine that meets no criterion, and the same machine with chosen criteria met."""

from dataclasses import replace
from datetime import date, timedelta

from fleet.catalogue import FEATURES, Equipment
from fleet.catalogue.gaps import good_state
from inspections.review import CRITERIA, DecidedBy, Event, FeatureFact, Judgement, MachineFacts, Upkeep

TODAY = date(2026, 11, 25)
WATCHED_FROM = date(2024, 11, 25)
FULL = Equipment(frozenset({"oxygen", "nitrous-oxide", "air"}), 2, True, True, True, True, True)
NOT_MIXING = {"electronic-mixing": FeatureFact("not fitted")}


def make_facts(name="M-1", **changes):
    features = {code: FeatureFact(good_state(each)) for code, each in FEATURES.items()}
    facts = MachineFacts(
        name=name,
        on=TODAY,
        equipment=FULL,
        features=features | NOT_MIXING,
        upkeep=Upkeep(until=date(2036, 1, 1)),
        watched_from=WATCHED_FROM,
        hours_down=0,
        built_year=2016,
        judgements={code: Judgement(False, "Looked at.") for code in ("R8", "R9", "R10", "R11")},
    )
    return replace(facts, **changes)


def broken(facts, *codes):
    """The same machine with these criteria met and no other."""
    for code in codes:
        facts = MEETERS[CRITERIA[code].decided_by](facts, CRITERIA[code])
    return facts


def meet_feature(facts, criterion):
    return replace(facts, features={**facts.features, criterion.feature: FeatureFact(criterion.when)})


def meet_upkeep(facts, criterion):
    return replace(facts, upkeep=Upkeep(is_available=False))


def meet_trend(facts, criterion):
    late = tuple(Event(TODAY - timedelta(days=3 * n), "leak") for n in range(8))
    return replace(facts, findings=late)


def meet_judgement(facts, criterion):
    return replace(facts, judgements={**facts.judgements, criterion.code: Judgement(True, "Seen.")})


MEETERS = {
    DecidedBy.FEATURE: meet_feature,
    DecidedBy.UPKEEP: meet_upkeep,
    DecidedBy.TREND: meet_trend,
    DecidedBy.JUDGEMENT: meet_judgement,
}
