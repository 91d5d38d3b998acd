"""What an alteration does to the circuit of a machine: cover before and after, components, or why it cannot be."""

from dataclasses import dataclass, field, replace

from fleet.catalogue import HAZARDS
from fleet.circuit.alterations import CannotBeAltered, altered, difference
from fleet.circuit.cover_rows import Status
from fleet.circuit.digest import circuit_digest
from fleet.circuit.serialise import table_from_dict
from fleet.circuit.solution import NoSolution
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.covers.storing import NO_ORDINARY_USE, cover_of, reason_without
from fleet.models import AlterationEffect
from fleet.work_progress import tell_nobody

MOST_ROWS = 200  # open rows of a cover table that are stored as closed or opened, each


@dataclass
class Effects:
    """Computes the effect of one plan on machine after machine; machines with equal circuits share one.

    made  the effects, not saved, by digest before and after; those without a circuit by their reason
    """

    plan: object
    at: object
    made: dict = field(default_factory=dict)

    def of(self, machine, found, tell=tell_nobody):
        """Return the effect on a machine with its MachineCircuit of today."""
        if not found.can_be_solved:
            return self._without_circuit(reason_without(found))
        before = shared_circuit(machine, found)[0]
        try:
            after = altered(found.circuit, self.plan.entry, self.plan.agent)
        except CannotBeAltered as refused:
            return self._refused(before, str(refused))
        return self._changed(before, shared_circuit(machine, _with_circuit(found, after))[0], tell)

    def _without_circuit(self, reason):
        key = ("", reason)
        if key not in self.made:
            self.made[key] = self._new(title="No circuit that can be computed", unknown=reason)
        return self.made[key]

    def _refused(self, before, reason):
        key = (circuit_digest(before), "")
        if key not in self.made:
            self.made[key] = self._new(before=key[0], title=before.title[:200], refusal=reason)
        return self.made[key]

    def _changed(self, before, after, tell):
        key = (circuit_digest(before), circuit_digest(after))
        if key not in self.made:
            effect = self._new(before=key[0], after=key[1], title=before.title[:200])
            effect.fitted, effect.removed = map(list, difference(before, after))
            try:
                _compare(effect, *(cover_of(circuit, at=self.at, tell=tell)[0] for circuit in (before, after)))
            except NoSolution as error:
                effect.unknown = f"{NO_ORDINARY_USE} {error}"
            self.made[key] = effect
        return self.made[key]

    def _new(self, **fields):
        return AlterationEffect(plan=self.plan, computed_at=self.at, **fields)


def _with_circuit(found, circuit):
    """Return a MachineCircuit with another circuit; what was measured on components that are gone is left out."""
    codes = {component.code for component in circuit.components}
    measured = {key: words for key, words in found.measured.items() if key[0] in codes}
    return replace(found, circuit=circuit, measured=measured)


def _compare(effect, before, after):
    counts = [{row.hazard: row for row in cover.hazards.all()} for cover in (before, after)]
    old, new = counts
    for hazard in HAZARDS:
        was, now = old.get(hazard), new.get(hazard)
        if was or now:
            effect.hazards[hazard] = [
                was.open if was else 0, now.open if now else 0, was.likely if was else 0, now.likely if now else 0,
            ]  # fmt: skip
    was_open, is_open = _open_rows(before), _open_rows(after)
    effect.closed = [list(row) for row in was_open if row not in is_open][:MOST_ROWS]
    effect.opened = [list(row) for row in is_open if row not in was_open][:MOST_ROWS]


def _open_rows(cover):
    rows = table_from_dict(cover.table).first_rows
    return dict.fromkeys((row.hazard, row.cause.title) for row in rows if row.status is Status.OPEN)
