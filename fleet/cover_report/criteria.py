"""The criteria of a cover report: the day, the machines, the safety features."""

from dataclasses import dataclass
from datetime import date

from fleet.catalogue import FEATURES, HAZARDS, Feature, FeatureClass
from fleet.catalogue.gaps import Standing
from fleet.days import long_date
from fleet.documents.phrases import lower_first

STATUS_CHOICES = [
    ("not retired", "Not retired"),
    ("in service", "In service"),
    ("withdrawn", "Withdrawn from use"),
    ("retired", "Retired"),
    ("all", "All, including retired"),
]
STANDING_WORDS = {
    Standing.GAP: "a gap: not fitted, or unwanted and present",
    Standing.DOUBT: "not known",
    Standing.COVERED: "covered",
    Standing.REPLACED: "replaced by another",
    Standing.DOES_NOT_APPLY: "does not apply",
}
SHORT_WORDS = {
    Standing.GAP: "not fitted",
    Standing.DOUBT: "not known",
    Standing.COVERED: "covered",
    Standing.REPLACED: "replaced by another",
    Standing.DOES_NOT_APPLY: "does not apply",
}


@dataclass(frozen=True, slots=True)
class CoverFilter:
    """The filter of a report. Site, area and model are records or None; the others are codes, empty for all.

    standing  selects machines on which `feature` (or, without one, any feature of the columns) has this standing
    """

    on: date
    today: date
    site: object = None
    area: object = None
    model: object = None
    feature_class: str = ""
    hazard: str = ""
    feature: str = ""
    standing: str = ""
    status: str = "not retired"

    @property
    def is_past(self) -> bool:
        """Return whether the report is of a day before today; then areas and sites are those of that day."""
        return self.on != self.today

    @property
    def columns(self) -> tuple[Feature, ...]:
        """Return the features of the report, by class, in the order of the catalogue."""
        order = tuple(FeatureClass)
        kept = [f for f in FEATURES.values() if self._keeps(f)]
        return tuple(sorted(kept, key=lambda feature: order.index(feature.feature_class)))

    def _keeps(self, feature):
        of_class = not self.feature_class or feature.feature_class == self.feature_class
        of_hazard = not self.hazard or self.hazard in feature.hazards
        return feature.code == self.feature or (of_class and of_hazard)

    @property
    def subject(self) -> tuple[Feature, ...]:
        """Return the features that `standing` and the breakdown by place count."""
        return (FEATURES[self.feature],) if self.feature else self.counted

    @property
    def counted(self) -> tuple[Feature, ...]:
        """Return the columns whose absence counts as a gap in sums: desirable ones only if the filter asks for them."""
        if self.feature_class == FeatureClass.DESIRABLE:
            return self.columns
        return tuple(feature for feature in self.columns if feature.feature_class is not FeatureClass.DESIRABLE)

    def in_words(self) -> list[tuple[str, str]]:
        """Return every condition as label and value, for page and export alike; the day always comes first."""
        pairs = [
            ("As of", long_date(self.on)),
            ("Machines", dict(STATUS_CHOICES)[self.status]),
            ("Site", self.site),
            ("Area", self.area),
            ("Model", self.model),
            ("Class", self.feature_class),
            ("Hazard", HAZARDS[self.hazard].name if self.hazard else ""),
            ("Safety feature", FEATURES[self.feature].name if self.feature else ""),
            ("State", STANDING_WORDS[Standing(self.standing)] if self.standing else ""),
        ]
        return [(label, str(value)) for label, value in pairs if value]

    @property
    def question(self) -> str:
        """Return the text of the standing that follows a number of machines; empty without one."""
        if not self.standing:
            return ""
        if not self.feature:
            return f"any safety feature that counts: {SHORT_WORDS[Standing(self.standing)]}"
        feature = FEATURES[self.feature]
        words = (
            "present" if feature.is_unwanted and self.standing == Standing.GAP else SHORT_WORDS[Standing(self.standing)]
        )
        return f"{lower_first(feature.name)} {words}"
