"""The live panel of a step: what its readings mean now, and at which field something is wrong."""

import re
from dataclasses import dataclass

from inspections.at_bench.evaluation import StepResult
from inspections.at_bench.field_names import place_names
from inspections.models import InspectionStep
from inspections.result_display import shown_curves, shown_results

CELL = re.compile(r"(?P<table>[\w-]+)\[(?P<row>\d+)\]\.(?P<column>[\w-]+)$")
PANEL_WIDTH, PANEL_TEXT = 290, 19  # px: the narrowest panel and text that stays 16 px in it


@dataclass(frozen=True, slots=True)
class LiveStep:
    """A step and its result; None for a step that is not tested."""

    step: InspectionStep
    step_result: StepResult | None

    @property
    def results(self):
        return self._shown(shown_results)

    @property
    def curves(self):
        return self._shown(shown_curves)

    def _shown(self, show):
        if self.step_result is None:
            return []
        return show(self.step_result.evaluation, f"live{self.step.pk}", PANEL_WIDTH, PANEL_TEXT)

    @property
    def missing(self):
        return self.step_result.evaluation.missing if self.step_result else ()

    @property
    def remarks(self):
        return self.step_result.evaluation.remarks if self.step_result else ()

    @property
    def error(self):
        return self.step_result.error if self.step_result else ""

    @property
    def decision(self):
        """The worst decision so far, as a word; empty before the first."""
        return self.step_result.words if self.step_result else ""

    @property
    def error_field(self):
        """Key of the field or table at which the error lies."""
        return self._error_place()[0]

    @property
    def error_id(self):
        """Id of the place at which the error lies, as the page has it."""
        return place_names(*self._error_place()).id

    def _error_place(self):
        key = self.step_result.error_key if self.step_result else ""
        cell = CELL.match(key)
        return (cell["table"], int(cell["row"]) - 1, cell["column"]) if cell else (key, 0, "")
