"""The mapping of the columns of a file to columns of the register."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.register_file.kinds import FileKind
from fleet.register_file.problems import Question
from fleet.register_file.synonyms import plain_name

HOW = {
    "said": "chosen",
    "remembered": "as last time",
    "same": "same name",
    "synonym": "known by another name",
    "ours": "added by Bobbin to a file with problems",
    "": "not known",
}
PROBLEM_COLUMNS = ("row in the file", "problems")


@dataclass(frozen=True, slots=True)
class MappedColumn:
    """One column of the file: its label, the column of the register ("" = left out) and how it was found (HOW)."""

    label: str
    column: str
    how: str

    @property
    def how_words(self):
        return HOW[self.how]


def digest_of(labels: Sequence[str]) -> str:
    """Return the digest of a set of headers: of their plain names, in any order."""
    return hashlib.sha256(json.dumps(sorted(plain_name(label) for label in labels)).encode()).hexdigest()


def map_columns(
    kind: FileKind, labels: Sequence[str], said: Mapping[str, str], remembered: Mapping[str, str]
) -> tuple[MappedColumn, ...]:
    """Return the column of every label: as the person chose, as chosen last time, or by its name.

    A column is used once: a second label with a synonym for the same column stays unknown.
    """
    found = {label: MappedColumn(label, "", "ours") for label in labels if label in PROBLEM_COLUMNS}
    for how, source in (("said", said), ("remembered", remembered)):
        for label in labels:
            if label not in found and label in source and source[label] in ("", *kind.columns):
                found[label] = MappedColumn(label, source[label], how)
    taken = {mapped.column for mapped in found.values()}
    for is_same in (True, False):
        for label in labels:
            column = kind.names.get(plain_name(label), "")
            same = plain_name(label) == plain_name(column)
            if label not in found and column and column not in taken and same == is_same:
                found[label] = MappedColumn(label, column, "same" if same else "synonym")
                taken.add(column)
    return tuple(found.get(label) or MappedColumn(label, "", "") for label in labels)


def mapping_questions(kind: FileKind, mapped: Sequence[MappedColumn]) -> list[Question]:
    """Return the questions about a mapping."""
    questions = []
    unknown = [f"“{one.label}”" for one in mapped if not one.how]
    synonyms = [f"“{one.label}” as {one.column}" for one in mapped if one.how == "synonym"]
    columns = [one.column for one in mapped if one.column]
    twice = sorted({column for column in columns if columns.count(column) > 1})
    if kind.sign not in columns:
        questions.append(Question("columns", f"Which column is {kind.sign}? Without it the rows cannot be identified."))
    if twice:
        questions.append(Question("columns", f"Only one column can be {', '.join(twice)}."))
    if unknown:
        questions.append(
            Question("columns", f"Not recognised, and left out unless you choose what they are: {', '.join(unknown)}.")
        )
    if synonyms:
        questions.append(Question("columns", f"Matched by another name: {', '.join(synonyms)}.", is_open=False))
    return questions
