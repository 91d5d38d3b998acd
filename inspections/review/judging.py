"""Judge a machine by the published obsolescence criteria, each with the machine's own reason.

Source: ASA guidelines for determining anesthesia machine obsolescence, 2004 (preamble seen, items from memory).
The review advises: the responsible clinician and the department decide.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue import FEATURES, absent_needs
from fleet.catalogue.gaps import NEED_WORDS, Standing, fitted_stand_ins, judge_feature
from fleet.days import long_date
from fleet.place_format import fixed
from inspections.review.burden import Burden, burden_of
from inspections.review.criteria import CRITERIA, Criterion, DecidedBy
from inspections.review.machine_evidence import Event, FeatureFact, Judgement, MachineFacts, OpenHazard
from inspections.review.trend import FEWEST_EVENTS, SHORTEST_DAYS, trend_of_days


class Status(StrEnum):
    """What a criterion is for one machine."""

    MET = "met"
    NOT_MET = "not met"
    NOT_KNOWN = "not known"
    NOT_APPLICABLE = "not applicable"


class Conclusion(StrEnum):
    """What the criteria together say; the first two are the guideline's words. Worst first."""

    OBSOLETE = "obsolete"
    CONSIDER = "consider replacement"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class Answer:
    """One criterion answered for one machine: the reason is a full sentence, the events can be opened."""

    criterion: Criterion
    status: Status
    reason: str
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Review:
    """All criteria answered, and the burden beside them."""

    facts: MachineFacts
    answers: tuple[Answer, ...]
    burden: Burden

    @property
    def absolute_met(self) -> tuple[Answer, ...]:
        return tuple(answer for answer in self._having(Status.MET) if answer.criterion.is_absolute)

    @property
    def relative_met(self) -> tuple[Answer, ...]:
        return tuple(answer for answer in self._having(Status.MET) if not answer.criterion.is_absolute)

    @property
    def open_questions(self) -> tuple[Answer, ...]:
        """Absolute criteria not known: until they are answered, "keep" and "consider" are provisional."""
        return tuple(answer for answer in self._having(Status.NOT_KNOWN) if answer.criterion.is_absolute)

    @property
    def conclusion(self) -> Conclusion:
        """Obsolete with any absolute criterion met, consider with relative ones only; age decides nothing."""
        if self.absolute_met:
            return Conclusion.OBSOLETE
        return Conclusion.CONSIDER if self.relative_met else Conclusion.KEEP

    @property
    def is_provisional(self) -> bool:
        return self.conclusion is not Conclusion.OBSOLETE and bool(self.open_questions)

    @property
    def hazards(self) -> tuple[str, ...]:
        """Codes of the hazards that the met criteria leave open, each once, in the order of the criteria."""
        return tuple(dict.fromkeys(code for each in self._having(Status.MET) for code in each.criterion.hazards))

    @property
    def computed_hazards(self) -> tuple[OpenHazard, ...]:
        """Hazards that the gas circuit leaves open as computed; none where no circuit was computed."""
        return self.facts.circuit.open_hazards if self.facts.circuit else ()

    @property
    def exposed(self) -> tuple[str, ...]:
        """Codes of the hazards that count as exposure, each once.

        Those that the met criteria leave open, then those that the circuit leaves open to a cause that is not rare and
        that a protection would close which the machine lacks. Rare causes, and those that no protection closes, are
        the same on nearly every machine: they are shown and not counted.
        """
        lacking = tuple(each.code for each in self.computed_hazards if each.closable)
        return tuple(dict.fromkeys(self.hazards + lacking))

    @property
    def added_hazards(self) -> tuple[str, ...]:
        """Codes of the hazards that count by the computed circuit alone."""
        return self.exposed[len(self.hazards) :]

    @property
    def summary(self) -> str:
        """The conclusion and why, in one or two sentences."""
        met = ", ".join(answer.criterion.code for answer in self.absolute_met + self.relative_met)
        first = {
            Conclusion.OBSOLETE: f"Obsolete by the guideline: criteria met: {met}.",
            Conclusion.CONSIDER: f"Consider replacement: relative criteria met: {met}; no absolute criterion is met.",
            Conclusion.KEEP: "Keep: no criterion is met.",
        }[self.conclusion]
        open_codes = ", ".join(answer.criterion.code for answer in self.open_questions)
        return f"{first} Open questions: {open_codes}." if open_codes else first

    def _having(self, status: Status) -> list[Answer]:
        return [answer for answer in self.answers if answer.status is status]


def review(facts: MachineFacts, criteria: Mapping[str, Criterion] = CRITERIA) -> Review:
    """Return the review of a machine on the day of its facts. Pure: the same facts give the same review."""
    answers = tuple(ANSWERERS[criterion.decided_by](criterion, facts) for criterion in criteria.values())
    return Review(facts, answers, burden_of(facts))


STATUSES: Mapping[Standing, Status] = {
    Standing.COVERED: Status.NOT_MET,
    Standing.GAP: Status.MET,
    Standing.DOUBT: Status.NOT_KNOWN,
    Standing.REPLACED: Status.NOT_MET,
}


def by_feature(criterion: Criterion, facts: MachineFacts) -> Answer:
    """Answer from the state of a protection, unless the machine cannot need it or another does the same job."""
    feature = FEATURES[criterion.feature]
    absent = absent_needs(feature, facts.equipment)
    if absent:
        reason = f"{feature.name} is not needed here: {' and '.join(NEED_WORDS[need] for need in absent)}."
        return Answer(criterion, Status.NOT_APPLICABLE, reason)
    codes = (feature.code, *feature.fulfilled_by)
    states = {code: facts.features[code].state for code in codes if code in facts.features}
    standing = judge_feature(feature, states, facts.equipment).standing
    if standing is Standing.REPLACED:
        name = FEATURES[fitted_stand_ins(feature, states)[0]].name
        return Answer(criterion, STATUSES[standing], f"{name} is fitted and has the same function.")
    fact = facts.features.get(feature.code, FeatureFact("not known"))
    return Answer(criterion, STATUSES[standing], feature_sentence(feature.name, fact))


def feature_sentence(name: str, fact: FeatureFact) -> str:
    """Return the state of a protection as a sentence with its evidence."""
    if fact.state == "not known":
        return f"{name}: not recorded whether it is fitted. Check the machine and record it."
    return f"{name}: {fact.state}{f' ({fact.evidence})' if fact.evidence else ', no evidence recorded'}."


def by_upkeep(criterion: Criterion, facts: MachineFacts) -> Answer:
    """Answer from the availability of approved parts and qualified service."""
    available = facts.upkeep.on(facts.on)
    if available is None:
        return by_judgement(criterion, facts, "Not recorded whether approved spare parts and service are available.")
    note = f" {facts.upkeep.note}" if facts.upkeep.note else ""
    end = long_date(facts.upkeep.until) if facts.upkeep.until else ""
    if available:
        until = f" until {end}" if end else ""
        return Answer(
            criterion, Status.NOT_MET, f"Approved spare parts and qualified service are available{until}.{note}"
        )
    since = f" since {end}" if end and facts.upkeep.until < facts.on else ""
    return Answer(criterion, Status.MET, f"Approved spare parts or qualified service are not available{since}.{note}")


def by_trend(criterion: Criterion, facts: MachineFacts) -> Answer:
    """Answer from the dates of findings; a person may judge where the record is too short."""
    first = facts.watched_from or facts.on
    if (facts.on - first).days + 1 < SHORTEST_DAYS:
        return by_judgement(
            criterion, facts, f"The record is shorter than {SHORTEST_DAYS} days: too short to show a trend."
        )
    trend = trend_of_days([event.on for event in facts.findings], first, facts.on)
    if trend is None:
        few = f"Fewer than {FEWEST_EVENTS} findings since {long_date(first)}: too few for a trend."
        return by_judgement(criterion, facts, few, otherwise=Status.NOT_MET)
    word = "become more frequent" if trend.is_worsening else "do not become more frequent"
    reason = (
        f"{trend.events} findings in {trend.days:.0f} days {word} "
        f"(Laplace statistic {fixed(trend.statistic, 2)}, one-sided p = {fixed(trend.p_value, 3)})."
    )
    return Answer(criterion, Status.MET if trend.is_worsening else Status.NOT_MET, reason, facts.findings)


def by_judgement(
    criterion: Criterion,
    facts: MachineFacts,
    unanswered: str = "Not judged yet.",
    otherwise: Status = Status.NOT_KNOWN,
) -> Answer:
    """Answer with what a person judged; without a judgement the status is `otherwise`."""
    judgement = facts.judgements.get(criterion.code)
    if judgement is None:
        return Answer(criterion, otherwise, unanswered)
    return Answer(criterion, Status.MET if judgement.is_met else Status.NOT_MET, judged_sentence(judgement))


def judged_sentence(judgement: Judgement) -> str:
    """Return a judgement's reason with who gave it and when."""
    who = f" by {judgement.by}" if judgement.by else ""
    when = f" on {long_date(judgement.on)}" if judgement.on else ""
    return f"Judged{who}{when}: {judgement.reason.rstrip('.')}."


ANSWERERS: Mapping[DecidedBy, Callable[[Criterion, MachineFacts], Answer]] = {
    DecidedBy.FEATURE: by_feature,
    DecidedBy.UPKEEP: by_upkeep,
    DecidedBy.TREND: by_trend,
    DecidedBy.JUDGEMENT: by_judgement,
}
