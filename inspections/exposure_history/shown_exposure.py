"""A stored exposure history in words and numbers, for page, picture and paper alike."""

from dataclasses import dataclass
from datetime import date

from fleet.catalogue import HAZARDS
from inspections.drawing.exposure_lines import HazardCourse
from inspections.exposure_history.ahead import ALTER, CHOICE, KEEP, REPLACE

DECISIONS = {
    KEEP: "keep as it is",
    ALTER: "only the alterations of the choice",
    REPLACE: "only its replacements",
    CHOICE: "the whole choice",
}
UNIT = "weighted machines"
WHAT_IT_SAYS = (
    "Each machine in service counts with the weight of each hazard for which its gas circuit, as recorded on that day, "
    "leaves a cause open that is not rare. Weights are those of the sites today.",
    "Ahead: what is done within a year counts from the end of that year; a replaced machine is taken to leave nothing "
    "open. Drift is that of the stored trends, as if nobody adjusted anything in between: it shows what the programme "
    "has to catch.",
    "Not counted: hours of use, the daily check, and failures that stay hidden between two inspections.",
)


@dataclass(frozen=True, slots=True)
class ExposureLine:
    """One hazard in the table: machines today, and points first, today and at the end of each decision."""

    name: str
    machines: float
    first: float
    now: float
    ends: tuple[float, ...]


class ShownExposure:
    """Everything that is shown of an ExposureHistory."""

    def __init__(self, history):
        self.history, self.result = history, history.result
        self.days = [date.fromisoformat(day) for day in self.result["days"]]
        self.ahead_days = [date.fromisoformat(day) for day in self.result["ahead_days"]]
        self.decisions = {code: words for code, words in DECISIONS.items() if code in self.result["ahead"]}

    @property
    def codes(self):
        """The hazards that were open on a day, the most exposed today first."""
        points = self.result["past"]["points"]
        ahead = {code for each in self.result["ahead"].values() for code in each["points"]}
        codes = [code for code in HAZARDS if code in points or code in ahead]
        return sorted(codes, key=lambda code: -self._now(code))

    def _now(self, code):
        return self.result["past"]["points"].get(code, [0.0])[-1]

    @property
    def courses(self):
        return [self._course(code) for code in self.codes]

    def _course(self, code):
        past = self.result["past"]["points"].get(code, [0.0] * len(self.days))
        ahead = {words: tuple(self._ahead(decision, code)) for decision, words in self.decisions.items()}
        return HazardCourse(HAZARDS[code].name, tuple(past), ahead)

    def _ahead(self, decision, code):
        return self.result["ahead"][decision]["points"].get(code, [0.0] * len(self.ahead_days))

    @property
    def lines(self):
        machines = self.result["past"]["machines"]
        return [
            ExposureLine(
                HAZARDS[code].name,
                machines.get(code, [0])[-1],
                self.result["past"]["points"].get(code, [0.0])[0],
                self._now(code),
                tuple(self._ahead(decision, code)[-1] if self.ahead_days else 0.0 for decision in self.decisions),
            )
            for code in self.codes
        ]

    @property
    def not_known(self):
        """What is missing, as sentences."""
        past, words = self.result["past"], []
        without = past["in_service"][-1] - past["known"][-1]
        if without:
            words.append(f"{without} of {past['in_service'][-1]} machines in service have no circuit that can be "
                         "computed: they count nowhere.")  # fmt: skip
        worst = min(zip(past["known"], past["in_service"], strict=True), key=lambda pair: pair[0] - pair[1])
        if worst[0] < worst[1] and worst != (past["known"][-1], past["in_service"][-1]):
            words.append(f"On an earlier day up to {worst[1] - worst[0]} machines were not known.")
        if left := self.result["circuits"]["left"]:
            words.append(f"{left} circuits of earlier days are not computed yet: compute again to go on with them.")
        return words
