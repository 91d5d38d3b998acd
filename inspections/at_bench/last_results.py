"""What a step said when it was last evaluated, stored with a digest of everything that the evaluation rests on.

A stored result is used only while the digest is the same, so a corrected scale, a new limit, another rated value or a
newer version of Bobbin is evaluated anew. It lies in the cache: losing it costs an evaluation and nothing else.
"""

import logging
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from pathlib import Path

from django.core.cache import cache as store

import fleet.catalogue
from fleet.late.services import redis
from inspections import bench
from inspections.at_bench.evaluation import Evaluator
from inspections.bench import BenchError, Decision
from inspections.errors import ReadingRefused

SECONDS = 7 * 24 * 3600
CODE = (Path(bench.__file__).parent, Path(fleet.catalogue.__file__).parent)
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class StepSummary:
    """What the list of steps needs of a StepResult."""

    decided: dict[str, str]
    is_complete: bool
    is_settled: bool
    words: str
    error: str = ""

    @property
    def decisions(self):
        return [Decision(word) for word in self.decided.values()]

    def written(self):
        """Return it as plain values: an older object in the cache could not be read after a change of the class."""
        return self.decided, self.is_complete, self.is_settled, self.words, self.error


def summary_of(result):
    return StepSummary(result.decided, result.is_complete, result.is_settled, result.words, result.error)


def evaluate_step(step, readings):
    """Evaluate one step from its current readings, and store what it says."""
    evaluator = Evaluator(step.inspection)
    result, last = evaluator.evaluate(step, readings), LastResults(evaluator)
    last.keep(step, readings, result)
    last.save()
    return result


class LastResults:
    """The stored summaries of one inspection; read once, and written by `save` if one is new."""

    def __init__(self, evaluator):
        self.evaluator = evaluator
        self.key = f"last-results-3-{evaluator.inspection.pk}"
        self.stored = _read(self.key)
        self.is_changed = False

    def find(self, step, readings):
        """Return the summary of a step from these readings, stored or evaluated now."""
        digest, (known, plain) = self._digest(step, readings), self.stored.get(step.pk, ("", None))
        if digest and digest == known:
            return StepSummary(*plain)
        return self.keep(step, readings, self.evaluator.evaluate(step, readings), digest)

    def keep(self, step, readings, result, digest=None):
        """Store the summary of a result that was evaluated from these readings, and return it."""
        summary = summary_of(result)
        digest = self._digest(step, readings) if digest is None else digest
        if digest and self.stored.get(step.pk) != (digest, summary.written()):
            self.stored[step.pk] = (digest, summary.written())
            self.is_changed = True
        return summary

    def save(self):
        if self.is_changed:
            _write(self.key, self.stored)

    def _digest(self, step, readings):
        """Return the digest of what an evaluation rests on, empty for what cannot even be put together."""
        in_order = sorted(readings, key=lambda reading: reading.slot)
        try:
            test, sheet, context, judges = self.evaluator.inputs(step, in_order)
        except (BenchError, ArithmeticError, ValueError, ReadingRefused):
            return ""
        named = sorted({self.evaluator.instrument_key(reading) for reading in in_order if reading.instrument})
        own = replace(context, instruments={code: context.instruments[code] for code in named})
        return sha256(
            repr((_code_digest(), test.code, sheet, own, judges, self.evaluator.limits_here.digest)).encode()
        ).hexdigest()


@cache
def _code_digest():
    """Return the digest of the modules and data that evaluate."""
    files = sorted(path for root in CODE for path in root.rglob("*") if path.suffix in (".py", ".toml"))
    return sha256(b"".join(path.read_bytes() for path in files)).hexdigest()


def _read(key):
    try:
        return dict(store.get(key) or {})
    except redis.RedisError:
        log.warning("the cache does not respond; every step is evaluated", exc_info=True)
        return {}


def _write(key, stored):
    try:
        store.set(key, stored, SECONDS)
    except redis.RedisError:
        log.warning("the cache does not respond; results of steps are not stored", exc_info=True)
