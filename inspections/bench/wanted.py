"""Whether a test reads something under the options that are chosen."""

from collections.abc import Mapping

from .declarations import ChoiceSpec, ReadingSpec, TableSpec


def is_wanted(spec: ReadingSpec | TableSpec | ChoiceSpec, chosen: Mapping[str, str]) -> bool:
    """Return whether a test reads what is declared, given the chosen option of each of its choices."""
    return not spec.wanted or any(
        all(chosen.get(choice) == option for choice, option in together) for together in spec.wanted
    )
