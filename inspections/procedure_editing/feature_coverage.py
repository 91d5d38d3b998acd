"""Which safety features a procedure tests, which it leaves out with a reason, and of which it says nothing."""

from dataclasses import dataclass

from fleet.catalogue import FEATURES
from inspections.at_bench.step_content import features_of


@dataclass(frozen=True, slots=True)
class FeatureCoverage:
    """Names of safety features, in the order of the catalogue; unwanted ones are not counted."""

    tested: tuple[str, ...]
    left_out: tuple[str, ...]
    unnamed: tuple[str, ...]

    @property
    def total(self):
        return len(self.tested) + len(self.left_out) + len(self.unnamed)


def feature_coverage(content):
    """Return the FeatureCoverage of a content. A step tests both of two features that it names."""
    tested = {code for step in content["step"] for code in features_of(step)}
    named = {code for entry in content.get("not_tested_here", []) for code in entry["features"]}
    wanted = {code: one.name for code, one in FEATURES.items() if not one.is_unwanted}
    return FeatureCoverage(
        tuple(name for code, name in wanted.items() if code in tested),
        tuple(name for code, name in wanted.items() if code in named - tested),
        tuple(name for code, name in wanted.items() if code not in tested | named),
    )
