"""The names of the single failures that the steps of procedures say they find, and those that no step finds."""

import re
from dataclasses import dataclass

from fleet.circuit.incidents import FAILURE, INCIDENTS

KNOWN_FAILURES = tuple(
    dict.fromkeys(f"{incident.kind}: {incident.mode}" for incident in INCIDENTS if incident.posed == FAILURE)
)
WRITTEN = re.compile(r"(?P<name>(?P<kind>[^():]*): (?P<mode>[^()]*?))(?: \((?P<only>[^()]+)\))?")


@dataclass(frozen=True, slots=True)
class FailureName:
    """A failure mode of a kind of component, of every one, or `only` of those with a gas, a place or both."""

    kind: str
    mode: str
    only: frozenset[str] = frozenset()

    def is_of(self, component):
        """Return whether it can be a failure of this component."""
        return component.kind == self.kind and self.only <= {component.gas, *component.options.values()}


def read_failure(text):
    """Return the FailureName written as “check-valve: leaking” or “check-valve: leaking (oxygen, yoke)”.

    Raise ValueError for what is not written so, and for a failure that no component is known for.
    """
    found = WRITTEN.fullmatch(text)
    if found is None or found["name"] not in KNOWN_FAILURES:
        raise ValueError(f"“{text}” is no known failure. Accepted: {_accepted(text)}.")
    only = frozenset(found["only"].split(", ")) if found["only"] else frozenset()
    return FailureName(found["kind"], found["mode"], only)


def _accepted(text):
    kind = text.partition(":")[0]
    of_kind = [name for name in KNOWN_FAILURES if name.startswith(f"{kind}:")]
    return ", ".join(of_kind) or "those of fleet/circuit/incidents.toml, written as “gauge: stuck”"
