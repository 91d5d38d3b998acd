"""Two contents of a procedure side by side: steps added, removed, moved and changed, field by field."""

from dataclasses import dataclass

from inspections.procedure_editing.draft_checks import shown_content
from inspections.procedure_editing.field_words import PUBLISHED, head_words, step_words

ADDED, REMOVED, MOVED, CHANGED, SAME = "added", "removed", "moved", "changed", "the same"


@dataclass(frozen=True, slots=True)
class FieldChange:
    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class StepChange:
    """One step of the two contents; `number_before`, `number_after` are None where it is in one of them only."""

    code: str
    title: str
    number_before: int | None
    number_after: int | None
    is_moved: bool
    fields: tuple[FieldChange, ...]

    @property
    def words(self):
        """What happened to the step, such as “moved and changed”."""
        if self.number_before is None:
            return ADDED
        if self.number_after is None:
            return REMOVED
        done = [word for word, is_so in ((MOVED, self.is_moved), (CHANGED, bool(self.fields))) if is_so]
        return " and ".join(done) or SAME

    @property
    def is_same(self):
        return self.words == SAME


@dataclass(frozen=True, slots=True)
class Comparison:
    head: tuple[FieldChange, ...]
    steps: tuple[StepChange, ...]

    @property
    def changed(self):
        return [step for step in self.steps if not step.is_same]

    @property
    def same(self):
        return [step for step in self.steps if step.is_same]

    @property
    def is_same(self):
        return not self.head and not self.changed

    @property
    def summary(self):
        """How many steps were added, removed, moved, changed and left as they were, those that are none left out."""
        counts = {
            ADDED: sum(step.number_before is None for step in self.steps),
            REMOVED: sum(step.number_after is None for step in self.steps),
            MOVED: sum(step.is_moved for step in self.steps),
            CHANGED: sum(
                bool(step.fields) for step in self.steps if None not in (step.number_before, step.number_after)
            ),
            SAME: len(self.same),
        }
        return [(word, number) for word, number in counts.items() if number]


def compare(before, after):
    """Return the Comparison of two contents; `before` may be None for a procedure that is new.

    Steps are the same step where their codes are. Of those in both, the fewest that explain the new order are moved.
    """
    before = before or {"title": "", "step": []}
    old, new = ({step["code"]: step for step in content["step"]} for content in (before, after))
    moved = _moved(list(old), list(new))
    numbers = [{code: at for at, code in enumerate(steps, start=1)} for steps in (old, new)]
    steps = [
        _step_change(code, old.get(code), new.get(code), *(of.get(code) for of in numbers), code in moved)
        for code in _merged(list(old), list(new))
    ]
    return Comparison(_differences(head_words(before), head_words(after)), tuple(steps))


def changes_in_words(before, after):
    """Return label -> text before, and label -> text after, of what differs: for the changes of a draft."""
    compared = compare(before, after)
    pairs = {one.label: (one.before, one.after) for one in compared.head}
    for step in compared.changed:
        name = f"Step “{step.title}” ({step.code})"
        pairs |= {f"{name}: {one.label.lower()}": (one.before, one.after) for one in step.fields}
        if not step.fields:
            pairs[name] = (_place(step.number_before), _place(step.number_after))
    return {label: old for label, (old, _) in pairs.items()}, {label: new for label, (_, new) in pairs.items()}


def differences_of_steps(before, after):
    """Return the FieldChange of every field in which two states of one written step differ."""
    return _step_change(before["code"], *shown_content({"step": [before, after]})["step"], 1, 1, False).fields


def _place(number):
    return "" if number is None else f"number {number}"


def _step_change(code, old, new, number_before, number_after, is_moved):
    fields = _differences(step_words(old) if old else {}, step_words(new) if new else {})
    if old is None or new is None:  # those of the bench test, which the step does not write
        fields = tuple(one for one in fields if one.label != PUBLISHED)
    return StepChange(code, (new or old)["title"], number_before, number_after, is_moved, fields)


def _differences(before, after):
    labels = list(after or before)
    pairs = [(label, before.get(label, ""), after.get(label, "")) for label in labels]
    return tuple(FieldChange(*pair) for pair in pairs if pair[1] != pair[2])


def _moved(old, new):
    """The codes in both that are not in one longest run of the same order."""
    kept_old, kept_new = [code for code in old if code in new], [code for code in new if code in old]
    return set(kept_new) - set(_longest_common(kept_old, kept_new))


def _longest_common(old, new):
    """The longest subsequence of two orders of the same codes: the longest rising run of their places."""
    place = {code: at for at, code in enumerate(old)}
    best = []  # for each code of the new order: the longest run that ends with it
    for at, code in enumerate(new):
        runs = [run for run, end in zip(best, new[:at], strict=True) if place[end] < place[code]]
        best.append([*max(runs, key=len, default=[]), code])
    return max(best, key=len, default=[])


def _merged(old, new):
    """The codes in the new order, each removed one after what it came after."""
    merged = list(new)
    for at, code in enumerate(old):
        if code not in new:
            before = old[at - 1] if at else None
            merged.insert(merged.index(before) + 1 if before in merged else 0, code)
    return merged
