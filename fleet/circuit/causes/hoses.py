"""Causes at hoses: disconnections, and misconnections that the connector sizes allow."""

from collections.abc import Iterator

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.locations import breathing_joints, breathing_parts, outlet_of, waste_joints
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit, Joint
from fleet.circuit.usual_states import ordinary_state

COMMON, OCCASIONAL, RARE = Likelihood
BREATHING_SIZES = ("15 mm", "22 mm")


def joint_causes(circuit: Circuit) -> tuple[Cause, ...]:
    """Return each disconnection, and each possible swap of two hoses. Likelihoods: common practice, no source."""
    ordinary = ordinary_state(circuit)
    return (*_off(circuit, ordinary), *_loose(circuit, ordinary), *_swapped(circuit, ordinary))


def hoses(circuit: Circuit) -> tuple[Joint, ...]:
    """Return the connections that are opened by hand: those with a size, and those of breathing hoses."""
    hose_codes = {part.code for part in circuit.of_kind("breathing-hose")}
    inside = breathing_joints(circuit)
    return tuple(
        joint
        for joint in sorted(circuit.joints, key=str)
        if joint.size or (joint in inside and {joint.source.part, joint.target.part} & hose_codes)
    )


def label_of(circuit: Circuit, joint: Joint) -> str:
    """Return a connection in words: between which components."""
    return f"{circuit.part(joint.source.part).label} and {circuit.part(joint.target.part).label}"


def _joint(code: str, title: str, state: State, likelihood: Likelihood, prevented_by: tuple[str, ...] = ()) -> Cause:
    return Cause(code, title, CauseGroup.JOINT, likelihood, state, prevented_by=prevented_by)


def _slug(joint: Joint) -> str:
    return f"{joint.source}-{joint.target}".replace(".", "-")


def _apart(ordinary: State, code: str, title: str, *joints: Joint, made: tuple[Joint, ...] = ()) -> State:
    return State(code, title, ordinary.settings, frozenset(joints), made)


def _off(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    outlet = outlet_of(circuit)
    for joint in hoses(circuit):
        code, title = f"{_slug(joint)}-off", f"The connection between {label_of(circuit, joint)} is open"
        at_outlet = outlet is not None and joint.source.part == outlet.code
        if at_outlet:
            title = f"The hose is disconnected from {outlet.label}"
        prevented = ("outlet-retention",) if at_outlet else ()
        state, words = _state_at_work(circuit, ordinary, joint)
        yield _joint(code, f"{title}{words}", _apart(state, code, title, joint), COMMON, prevented)


def _state_at_work(circuit: Circuit, ordinary: State, joint: Joint) -> tuple[State, str]:
    """Return the state in which a connection matters: for the bag's, when the bag is selected."""
    bags = {part.code for part in circuit.of_kind("reservoir-bag")}
    selectors = circuit.of_kind("bag-vent-selector")
    if not selectors or not {joint.source.part, joint.target.part} & bags:
        return ordinary, ""
    return ordinary.with_settings(selectors[0].code, position="bag"), ", while the patient breathes from it"


def _loose(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Cones that do not fit each other come loose; standard ones fit."""
    hose_codes = {part.code for part in circuit.of_kind("breathing-hose")}
    for joint in breathing_joints(circuit):
        patients = {part.code for part in circuit.of_kind("patient-connection")}
        if not (
            {joint.source.part, joint.target.part} & patients and {joint.source.part, joint.target.part} & hose_codes
        ):
            continue
        code = f"{_slug(joint)}-does-not-fit"
        title = f"Cones of two manufacturers between {label_of(circuit, joint)} do not fit and disconnect"
        yield _joint(code, title, _apart(ordinary, code, title, joint), OCCASIONAL, ("breathing-connectors",))


def _swapped(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """A breathing hose and a waste gas hose, connected in place of each other."""
    hose_codes = {part.code for part in circuit.of_kind("breathing-hose")} & breathing_parts(circuit)
    for waste in waste_joints(circuit):
        for joint in breathing_joints(circuit):
            if not _may_be_swapped(circuit, joint, waste, hose_codes):
                continue
            made = (
                Joint(joint.source, waste.target, joint.size),
                Joint(waste.source, joint.target, joint.size),
            )
            code = f"{_slug(joint)}-swapped-with-{_slug(waste)}"
            title = (
                f"A breathing hose and the waste gas hose are swapped: {circuit.part(joint.source.part).label} leads "
                f"to {circuit.part(waste.target.part).label}"
            )
            state = _apart(ordinary, code, title, joint, waste, made=made)
            yield _joint(code, title, state, OCCASIONAL, ("scavenging-30mm",))


def _may_be_swapped(circuit: Circuit, joint: Joint, waste: Joint, hose_codes) -> bool:
    """Return whether they could be confused: a breathing hose at the machine's end, and the hose of the APL valve.

    A waste gas connector of 30 mm prevents it. The cause is listed all the same, to show the effect of that feature.
    """
    ends = {joint.source.part, joint.target.part}
    if not ends & hose_codes or circuit.of_kind("patient-connection")[0].code in ends:
        return False
    return joint.size in ("", *BREATHING_SIZES) and circuit.part(waste.source.part).kind == "apl-valve"
