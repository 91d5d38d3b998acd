"""Monitors: they take no gas, and show or alarm on what they measure."""

from fleet.catalogue import AGENTS
from fleet.circuit.elements.base import Element, Failure, Plumbing, Told
from fleet.circuit.elements.defaults import CM_H2O, OCCASIONAL, practice

NOTICED = 1e-4  # smallest fraction of a vapour that an agent monitor shows. Source: common practice, no source


class OxygenAnalyser(Element):
    """Alarms while the oxygen fraction at its port is below its limit, whatever the pressure.

    It shows whole per cent, so room air reads 21 %.
    """

    kind = "oxygen-analyser"
    values = {"alarm_low": practice(0.25, "fraction")}
    failures = {
        "silent": Failure(OCCASIONAL, "its cell is spent or its alarm is off"),
        "drifted high": Failure(OCCASIONAL, "it reads too high by 10 % oxygen"),
    }
    protects = ("o2-analyser",)

    def plumbing(self) -> Plumbing:
        return Plumbing()

    def told(self, solution) -> tuple[Told, ...]:
        mix = self.mix_at(solution, "in")
        if mix is None or self.condition.is_removed or self.has_failed("silent"):
            return ()
        shown = round(mix.share("oxygen") + 0.1 * self.has_failed("drifted high"), 2)
        if shown >= self.value("alarm_low"):
            return ()
        words = f"{self.component.label} alarms: oxygen {shown:.0%}, limit {self.value('alarm_low'):.0%}."
        return (Told(self.component.code, "o2-analyser", words),)


class AirwayPressureMonitor(Element):
    """Alarms on pressure that is too high or below ambient and, during mechanical ventilation, too low."""

    kind = "airway-pressure-monitor"
    values = {
        "alarm_high": practice(40 * CM_H2O, "pressure"),
        "alarm_negative": practice(10 * CM_H2O, "pressure"),  # below ambient
        "alarm_missing": practice(1 * CM_H2O, "pressure"),
    }
    options = {"alarms": ("both", "high", "low", "none")}
    failures = {"silent": Failure(OCCASIONAL, "its alarms are off")}

    def __init__(self, component, condition):
        super().__init__(component, condition)
        high, low = ("airway-pressure-alarm",), ("low-pressure-alarm",)
        self.protects = {"both": high + low, "high": high, "low": low, "none": ()}[self.option("alarms")]

    def plumbing(self) -> Plumbing:
        return Plumbing()

    def told(self, solution) -> tuple[Told, ...]:
        pressure = self.gauge_at(solution, "in")
        if pressure is None or self.has_failed("silent") or self.condition.is_removed:
            return ()
        words = f"{self.component.label} alarms: airway pressure {pressure / CM_H2O:.1f} cmH2O."
        found = []
        if pressure > self.value("alarm_high") or pressure < -self.value("alarm_negative"):
            found.append("airway-pressure-alarm")
        if pressure < self.value("alarm_missing") and is_ventilated(solution):
            found.append("low-pressure-alarm")
        return tuple(Told(self.component.code, feature, words) for feature in found if feature in self.protects)


def is_ventilated(solution) -> bool:
    """Return whether the ventilator is in use: the selector is set to it, or there is one and no selector."""
    selectors = solution.circuit.of_kind("bag-vent-selector")
    if not selectors:
        return bool(solution.circuit.of_kind("ventilator"))
    return any(solution.state.of(component.code).get("position", "bag") == "ventilator" for component in selectors)


class GasMonitor(Element):
    """Alarms on two agents at once, or on one above `alarm_mac` times its MAC. No catalogue feature."""

    kind = "gas-monitor"
    values = {"alarm_mac": practice(2.5, "amount")}
    failures = {"silent": Failure(OCCASIONAL, "its alarms are off or its sampling tube is disconnected")}

    def plumbing(self) -> Plumbing:
        return Plumbing()

    def told(self, solution) -> tuple[Told, ...]:
        mix = self.mix_at(solution, "in")
        if mix is None or self.has_failed("silent"):
            return ()
        agents = {code: share for code, share in mix.agents.items() if share > NOTICED}
        words = [f"{AGENTS[code].name} {share:.1%}" for code, share in agents.items()]
        macs = sum(share / AGENTS[code].mac for code, share in agents.items())
        if len(agents) < 2 and macs <= self.value("alarm_mac"):
            return ()
        return (Told(self.component.code, "", f"{self.component.label} alarms: {' and '.join(words)}."),)
