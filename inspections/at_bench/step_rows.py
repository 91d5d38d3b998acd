"""The rows that a step of a procedure becomes on a machine: one for each gas or component, or why it does not apply."""

from dataclasses import dataclass

from fleet.catalogue import COMPONENT_KINDS, GASES, Equipment, Need, absent_needs, get_feature
from fleet.catalogue.gaps import NEED_WORDS
from fleet.models import FeatureState, State
from fleet.place_format import day_text
from inspections.at_bench.step_content import features_of, worded
from inspections.bench import get_test, lacking
from inspections.models import InspectionStep

SHOWN_BY = {
    "ventilator": "ventilator", "vaporizer": "vaporizer", "measured-flow-vaporizer": "vaporizer",
    "pipeline-inlet": "pipeline", "cylinder-yoke": "yokes", "scavenging-interface": "scavenging",
    "battery": "mains-power",
}  # fmt: skip
"""By kind of component: the equipment that the machine must have, where such a component is on its record."""
GASES_IF_NOT_KNOWN = ("oxygen", "nitrous-oxide")  # the second gas is the one that can kill


@dataclass(frozen=True, slots=True)
class MachineOnDay:
    """What decides which steps apply: gases, equipment, feature states by code, components in place."""

    gases: tuple[str, ...]
    equipment: Equipment
    features: dict[str, FeatureState]
    components: list


def machine_on_day(machine, on):
    """Read from the register what decides which steps apply."""
    return MachineOnDay(
        gases=tuple(machine.model.gases) or GASES_IF_NOT_KNOWN,
        equipment=machine.model.equipment,
        features={state.feature: state for state in machine.feature_states.on(on)},
        components=list(machine.components.on(on)),
    )


@dataclass(frozen=True, slots=True)
class Place:
    """Where on a machine a step is done: a gas or a component in `subject`, or `absence`, why it is not done."""

    subject: str = ""
    component: object = None
    absence: str = ""


def rows_of(inspection, content, machine):
    """Return the rows of one step; a single one with the reason where it does not apply."""
    return [
        row_of(
            inspection,
            content_on(content_at(content, place.component), machine),
            subject=place.subject,
            component=place.component,
            absence=place.absence,
        )
        for place in places_of(content, machine)
    ]


def places_of(content, machine):
    """Return where on a machine a step is done; a single place with the reason where it does not apply."""
    absence = missing_feature(content, machine) or _missing_need(content, machine) or _missing_gas(content, machine)
    if absence:
        return [Place(absence=absence)]
    if "component" in content:
        return _at_components(content, machine)
    if content.get("each") == "other gas":
        return [Place(gas) for gas in machine.gases if gas != "oxygen"]
    return [Place(content.get("gas", ""))]


def _at_components(content, machine):
    if not machine.components:
        return [Place(content.get("gas", ""))]  # nobody entered what it is made of: that says nothing about this kind
    gas, rated = content.get("gas"), content.get("rated")
    found = [one for one in machine.components if one.kind == content["component"] and one.gas in ("", gas or one.gas)]
    name = COMPONENT_KINDS[content["component"]].name.lower()
    if not found:
        of_gas = f" of {GASES[gas].name.lower()}" if gas else ""
        return [Place(absence=f"No {name}{of_gas} is recorded on this machine.")]
    stating = [one for one in found if not rated or rated in one.rated]
    if not stating:
        label = COMPONENT_KINDS[content["component"]].rated_value(rated).label.lower()
        return [Place(absence=f"No {name} of this machine is recorded with a {label}.")]
    return [Place(one.label, one) for one in stating]


def content_at(content, component):
    """Return the content of a step at a component: a choice that its record answers is not asked."""
    asked = content.get("from_record", {}) if component is not None else {}
    known = {key: component.gas if of == "gas" else component.options.get(of, "") for key, of in asked.items()}
    offered = {spec.key: [value for value, _ in spec.options] for spec in get_test(content["test"]).choices}
    settled = {key: value for key, value in known.items() if value in offered[key]}
    return {**content, "choices": {**content.get("choices", {}), **settled}} if settled else content


def content_on(content, machine):
    """Return the content of a step as it reads on a machine: its passages settled, and what its test leaves out.

    What the machine is not known to lack counts as there, and so does what a safety feature of the step needs that is
    recorded as fitted.
    """
    lacks = lacked_by(machine) - _needed_by_fitted(content, machine)
    left_out = lacking(content["test"], lacks, content.get("choices", {}))
    return worded(content, lacks) | ({"lacks": sorted(left_out)} if left_out else {})


def lacked_by(machine):
    """Return the codes of equipment and gases that a machine is known to lack, as passages of texts name them.

    What a component on its record shows to be there is not lacking, whatever the model's description says.
    """
    absent = {str(need) for need in Need if machine.equipment.has(need) is False}
    gases = machine.equipment.gases
    absent |= set() if gases is None else GASES.keys() - gases
    shown = [SHOWN_BY[one.kind] for one in machine.components if one.kind in SHOWN_BY]
    if shown.count("vaporizer") > 1:
        shown.append("two-vaporizers")
    delivered = {one.gas for one in machine.components} - {""}
    if delivered - {"oxygen"}:
        shown.append("second-gas")
    return frozenset(absent - delivered - {*shown})


def _needed_by_fitted(content, machine):
    states = {code: machine.features.get(code) for code in features_of(content)}
    fitted = [code for code, state in states.items() if state is not None and state.state == State.FITTED]
    return {str(need) for code in fitted for need in get_feature(code).needs}


def missing_feature(content, machine):
    """Return why none of the safety features that the step is about calls for it; empty if one does, or there is none.

    A feature that nobody knows of calls for its step: what is not known counts as fitted.
    """
    reasons = [_not_called_for(get_feature(code), machine) for code in features_of(content)]
    return " ".join(reasons) if all(reasons) else ""


def _not_called_for(feature, machine):
    state = machine.features.get(feature.code)
    if state is not None and state.state == State.NOT_FITTED:
        since = day_text(state.from_date)  # stored, so it is the same at every site
        return f"{feature.name}: not fitted, since {since} ({state.get_evidence_display().lower()})."
    if state is not None and state.state == State.FITTED:
        return ""
    return _lacking(
        f"{feature.name}: not known whether fitted; on the record of this model",
        absent_needs(feature, machine.equipment),
    )


def _missing_need(content, machine):
    needs = [Need(code) for code in content.get("needs", [])]
    lacking = [need for need in needs if machine.equipment.has(need) is False]
    return _lacking("On the record of this model", lacking)


def _lacking(start, needs):
    return f"{start}, {' and '.join(NEED_WORDS[need] for need in needs)}." if needs else ""


def _missing_gas(content, machine):
    if content.get("each") == "other gas" and set(machine.gases) <= {"oxygen"}:
        return "The machine gives oxygen only."
    wanted = content.get("gas")
    return f"The machine does not give {GASES[wanted].name.lower()}." if wanted and wanted not in machine.gases else ""


def row_of(inspection, content, *, subject="", component=None, absence=""):
    return InspectionStep(
        inspection=inspection,
        code=content["code"],
        title=content["title"],
        test_code=content["test"],
        subject=subject,
        component=component,
        is_essential=content.get("essential", False),
        content=content,
        applies=not absence,
        absence=absence,
    )
