"""The kinds of machine from which a model starts, and what follows from one and from what differs of it."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.catalogue import FEATURES, Need
from fleet.circuit.derived_features import FITTED, NOT_FITTED, derived_features
from fleet.circuit.files import read_circuit
from fleet.circuit.kit.building import FOLDER, KIT_GASES, NO, NONE, circuit_file, whole_choices


@dataclass(frozen=True, slots=True)
class MachineKind:
    """A kind of machine: the answers of the kit that differ from the defaults, and features that no circuit shows."""

    code: str
    name: str
    about: str
    choices: Mapping[str, str]
    fitted: tuple[str, ...]
    not_fitted: tuple[str, ...]


def _kinds() -> Mapping[str, MachineKind]:
    rows = tomllib.loads((FOLDER / "kinds.toml").read_text(encoding="utf-8"))["kind"]
    kinds = (
        MachineKind(
            row["code"],
            row["name"],
            row["about"],
            MappingProxyType(row["choices"]),
            tuple(row["fitted"]),
            tuple(row["not_fitted"]),
        )
        for row in rows
    )
    return MappingProxyType({kind.code: kind for kind in kinds})


MACHINE_KINDS = _kinds()


@dataclass(frozen=True, slots=True)
class ModelStart:
    """What a model starts with: its gases, missing equipment, circuit file and the states of safety features."""

    gases: tuple[str, ...]
    vaporizer_positions: int
    lacks: tuple[str, ...]
    circuit: str
    features: Mapping[str, str]


def start_of(kind: MachineKind, chosen: Mapping[str, str] = MappingProxyType({}), *, title: str) -> ModelStart:
    """Return what a model of this kind starts with.

    chosen  answers of the kit that differ from those of the kind
    """
    answers = whole_choices({**kind.choices, **chosen})
    text = circuit_file(answers, title=title, fittings=kind.fitted)
    shown = {code: derived.state for code, derived in derived_features(read_circuit(text)).items()}
    equipment = missing_equipment(answers)
    own = dict.fromkeys(kind.not_fitted, NOT_FITTED) | dict.fromkeys(kind.fitted, FITTED) | shown
    return ModelStart(
        gases=tuple(gas for gas in KIT_GASES if answers[gas] != NONE),
        vaporizer_positions=sum(answers[f"vaporizer-{number}"] != NONE for number in (1, 2)),
        lacks=equipment,
        circuit=text,
        features={code: own[code] for code in FEATURES if code in own},
    )


def missing_equipment(answers: Mapping[str, str]) -> tuple[str, ...]:
    """Return what a machine of these answers does not have, as codes of Need."""
    supplies = {answers[gas] for gas in KIT_GASES}
    missing = {
        Need.PIPELINE: not supplies & {"both", "pipeline"},
        Need.YOKES: not supplies & {"both", "cylinder"},
        Need.VENTILATOR: answers["ventilator"] == NONE,
        Need.SCAVENGING: answers["scavenging"] == NONE,
        Need.MAINS_POWER: answers["mains"] == NO,
    }
    return tuple(need.value for need, is_missing in missing.items() if is_missing)
