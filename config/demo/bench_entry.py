"""One thing that a simulated technician enters at the bench."""

from dataclasses import dataclass

CM_H2O = 98.0665


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to enter: a number in SI, or a word for a choice or a yes/no item. `own` = the machine's own gauge."""

    field: str
    value: float | None = None
    word: str = ""
    row: int = 0
    column: str = ""
    own: bool = False


def settled(work, choice, otherwise):
    """Return what the procedure settles for a choice of the test, or `otherwise`."""
    return work.step.content.get("choices", {}).get(choice, otherwise)
