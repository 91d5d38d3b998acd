"""Latent first failures: the only protection has failed unnoticed, and then the cause comes that it should stop."""

from collections.abc import Iterator
from dataclasses import replace

from fleet.catalogue import FEATURES
from fleet.circuit.cover_rows import Cause, CoverRow, Status
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.features_present import Protections
from fleet.circuit.quantity_words import small
from fleet.circuit.state import Fault, Likelihood

ORDER = tuple(Likelihood)


def latent_causes(row: CoverRow, protections: Protections) -> Iterator[tuple[Cause, str]]:
    """Yield the causes in which the only protection of a row has failed before, with the code of that protection.

    A row with a second protection, or one that takes several together, has none. A component fails in the modes that
    nothing shows; pins and other fittings are missing.
    """
    code = sole_protection(row)
    if not code or row.cause.latent:
        return
    failing = list(_silent_failures(protections, code))
    if code in row.cause.prevented_by:
        failing = []
    taken = {fault.component for fault in row.cause.faults}
    for fault, words, likelihood in failing:
        if fault.component not in taken:
            yield _after(row.cause, code, words, likelihood, fault), code
    if not failing:
        words = f"{FEATURES[code].name} is missing or defeated"
        yield _after(row.cause, code, words, Likelihood.OCCASIONAL, None), code


def sole_protection(row: CoverRow) -> str:
    """Return the code of the only feature that stops a row or, if none does, alarms on it; else an empty text."""
    guards = {Status.STOPPED: row.stopped_by, Status.TOLD: row.told_by}.get(row.status, ())
    return guards[0] if len(guards) == 1 and not row.together else ""


def _silent_failures(protections: Protections, code: str) -> Iterator[tuple[Fault, str, Likelihood]]:
    providers = protections.components_with(code)
    if len(providers) != 1:
        return  # with several, the failure of one leaves the others: then the feature as a whole is missing
    component = protections.circuit.component(providers[0])
    for mode, failure in element_for(component, Condition()).failures.items():
        if failure.is_silent:
            yield Fault(component.code, mode), f"{component.label}: {failure.words}", failure.likelihood


def _after(cause: Cause, code: str, words: str, likelihood: Likelihood, fault: Fault | None) -> Cause:
    first = f"{fault.component}-{fault.mode.replace(' ', '-')}" if fault else f"{code}-missing"
    return replace(
        cause,
        code=f"{first}--{cause.code}",
        title=f"{words}, unnoticed; then {small(cause.title)}",
        likelihood=max(cause.likelihood, likelihood, key=ORDER.index),
        faults=(*cause.faults, fault) if fault else cause.faults,
        prevented_by=tuple(each for each in cause.prevented_by if each != code),
        latent=code,
    )
