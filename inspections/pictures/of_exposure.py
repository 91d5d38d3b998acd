"""The picture of a stored exposure history."""

from inspections.drawing.exposure_lines import describe_exposure, exposure_panels
from inspections.exposure_history.shown_exposure import UNIT, ShownExposure
from inspections.pictures.picture import Picture

MOST_HAZARDS = 12


def exposure_picture(history):
    """Return the picture of an ExposureHistory; one without rows where none is stored yet."""
    if history is None:
        return Picture(
            "exposure", "Exposure by hazard over time", "Past, and ahead under each decision.",
            lambda width, text: None, "", (), (),
            "It has not been computed yet. Compute it: the circuits of earlier days take some minutes.",
        )  # fmt: skip
    shown = ShownExposure(history)
    courses = shown.courses[:MOST_HAZARDS]
    return Picture(
        "exposure",
        "Exposure by hazard over time",
        f"In {UNIT}: each machine in service counts with the weight of every hazard that its gas circuit leaves open.",
        lambda width, text: exposure_panels(courses, shown.days, shown.ahead_days, width=width, text=text),
        describe_exposure(courses),
        ("Hazard", "Machines today", "At first", "Today", *(f"In five years: {words}" for words in _ends(shown))),
        [
            (line.name, f"{line.machines:.0f}", f"{line.first:.0f}", f"{line.now:.0f}",
             *(f"{end:.0f}" for end in line.ends))
            for line in shown.lines[:MOST_HAZARDS]
        ],
        "No machine in service leaves a hazard open.",
    )  # fmt: skip


def _ends(shown):
    return shown.decisions.values()
