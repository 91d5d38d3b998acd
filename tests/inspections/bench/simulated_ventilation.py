"""Random cases of the ventilator and of the vaporizer, each with draws of what was true."""

from inspections.bench import Reading, Sheet
from tests.inspections.bench.simulated import SI, Case, Draws, Meter


def _draws(random, count):
    return Draws(random, count, ambient=random.uniform(70e3, 103e3), kelvin=random.uniform(286, 302))


def _flowmeter(random):
    return Meter("F", "L/min", 100.0, 0.01, random.uniform(0.01, 0.05), random.uniform(0, 0.02))


def ventilator(random, count):
    """One setting of a machine that lets its fresh gas join the breath, with hoses known by their volume."""
    draws = _draws(random, count)
    lung, meter = Meter("V", "mL", 3000, 1, random.uniform(0.01, 0.04), 2), _flowmeter(random)
    airway = Meter("P", "cmH2O", 120, 0.1, 0.01, 0.5)
    set_to, rate_set, share_set = random.uniform(200, 800), random.uniform(8, 20), random.uniform(25, 50)
    fresh = draws.reading(random.uniform(0.2, 2), meter)
    hoses = draws.reading(random.uniform(500, 4000), Meter("S", "mL", 6000, 10, 0.02, 5))
    peep, plateau = draws.reading(5, airway), draws.reading(random.uniform(15, 30), airway)
    measured = draws.reading(set_to * random.uniform(0.9, 1.1), lung)
    rate = draws.reading(rate_set * random.uniform(0.98, 1.02), Meter("R", "1/min", 100, 0.1, 0.01))
    share = share_set / 100 * (1 + 0.05 * draws.normal())
    added = fresh[1] * share / rate[1]
    capacity = (hoses[1] + 0.1 * hoses[0].value * 1e-6 * draws.normal()) / draws.true_ambient
    lost = capacity * (plateau[1] - peep[1])
    warmed = 310.15 / draws.true_kelvin * draws.true_ambient / (draws.true_ambient - 6282.3)
    peak, shown = draws.reading(32, airway), 33.0
    truth = {
        "volume_error": measured[1] * warmed - set_to * 1e-6,
        "own_error": (measured[1] - added + lost) * warmed - set_to * 1e-6,
        "minute_volume_error": measured[1] * warmed * rate[1] - set_to * 1e-6 * rate_set / 60,
        "fresh_gas_added": added, "hose_loss": lost, "rate_error": rate[1] - rate_set / 60,
        "peep_error": peep[1] - 5 * SI["cmH2O"], "pressure_error": shown * SI["cmH2O"] - peak[1],
    }  # fmt: skip
    values = {
        "rate_set": Reading(rate_set, "1/min"), "rate": rate[0], "inspiratory_share": Reading(share_set, "%"),
        "fresh_gas": fresh[0], "hose_volume": hoses[0], "peep_set": Reading(5, "cmH2O"), "peep": peep[0],
        "peak": peak[0], "peak_shown": Reading(shown, "cmH2O"), "full_scale": Reading(100, "cmH2O"),
    }  # fmt: skip
    row = {"set": Reading(set_to, "mL"), "measured": measured[0], "plateau": plateau[0]}
    sheet = Sheet(values, {"volumes": (row,)}, {"decoupled": "no", "hoses": "volume", "conditions": "body"})
    return Case("ventilator-volume", sheet, draws.context(), truth)


def vaporizer(random, count):
    """One setting of a variable-bypass vaporizer away from sea level, by an analyser that shows a share of the gas."""
    draws, dial = _draws(random, count), random.uniform(1, 4)
    meter = Meter("A", "%", 20, 0.01, random.uniform(0.01, 0.05), random.uniform(0.01, 0.05))
    true_share = dial * 101_325 / draws.ambient * random.uniform(0.9, 1.1)
    one, off = draws.reading(true_share, meter), draws.reading(0.02, meter)
    truth = {"output_symmetric": one[1] * draws.true_ambient / 101_325 - dial / 100, "off_output": off[1]}
    values = {"maximum": Reading(5, "%"), "flow": Reading(5, "L/min"), "off_output": off[0]}
    sheet = Sheet(values, {"outputs": ({"dial": Reading(dial, "%"), "measured": one[0]},)})
    return Case("vaporizer-output", sheet, draws.context(), truth)


def gas_monitor(random, count):
    """A certified gas with a normal error, read by a capnograph as a partial pressure; the zero is far better."""
    draws, certificate, kind = _draws(random, count), random.uniform(0.5, 2), random.choice(["dry", "saturated"])
    label, agent = random.uniform(4, 10), random.uniform(1, 6)
    true, vapour = (one / 100 * (1 + certificate / 200 * draws.normal()) for one in (label, agent))
    water = 6282.3 if kind == "saturated" else 0.0
    shown = round(label / 100 * (draws.ambient - water) / 133.322387415 * random.uniform(1.04, 1.06), 1)
    response = draws.reading(random.uniform(2, 6), Meter("W", "s", 600, 0.1, 0, 0.3))
    truth = {
        "co2_error": shown * 133.322387415 / (draws.true_ambient - water) - true,
        "agent_error": agent * 1.05 / 100 - vapour, "response_time": response[1],
    }  # fmt: skip

    def gas(reference, column, figure, unit):
        return {"reference": Reading(reference, "%"), "certificate": Reading(certificate, "%"),
                column: Reading(figure, unit)}  # fmt: skip

    tables = {
        "co2_pressure": (gas(label, "shown_pressure", shown, "mmHg"),),
        "agent": (gas(agent, "shown", agent * 1.05, "%"),),
    }
    sheet = Sheet({"response": response[0]}, tables, {"monitor": "infrared", "co2_shows": kind})
    return Case("gas-monitor", sheet, draws.context(), truth)


def displays(random, count):
    """One volume shown at body conditions, and one pressure, beside a tester's."""
    draws, lung = _draws(random, count), Meter("V", "mL", 3000, 1, random.uniform(0.01, 0.04), 2)
    airway = Meter("P", "cmH2O", 120, 0.1, random.uniform(0.005, 0.03), 0.5)
    volume, pressure = draws.reading(random.uniform(200, 800), lung), draws.reading(random.uniform(10, 50), airway)
    warmed = 310.15 / draws.true_kelvin * draws.true_ambient / (draws.true_ambient - 6282.3)
    shown, risen = volume[0].value * 1.12, pressure[0].value + 1
    truth = {"volume_critical": shown * SI["mL"] - volume[1] * warmed,
             "pressure_critical": risen * SI["cmH2O"] - pressure[1]}  # fmt: skip
    tables = {"volumes": ({"reference": volume[0], "shown": Reading(shown, "mL")},),
              "pressures": ({"reference": pressure[0], "shown": Reading(risen, "cmH2O")},)}  # fmt: skip
    sheet = Sheet({}, tables, {"rule": "critical", "conditions": "body"})
    return Case("monitor-readings", sheet, draws.context(), truth)


def alarm(random, count):
    """A high-pressure alarm timed by hand: the hand adds 0.15 s to the error of the watch."""
    draws, airway = _draws(random, count), Meter("P", "cmH2O", 120, 0.1, random.uniform(0.005, 0.03), 0.5)
    set_to = random.uniform(15, 60)
    sounded = draws.reading(set_to + random.uniform(-2, 2), airway)
    delay = draws.reading(random.uniform(1, 6), Meter("W", "s", 600, 0.1, 0, random.uniform(0.05, 0.4)))
    truth = {"high_pressure_error": sounded[1] - set_to * SI["cmH2O"],
             "high_pressure_delay": delay[1] + 0.15 * draws.normal()}  # fmt: skip
    row = {"set": Reading(set_to, "cmH2O"), "sounded": sounded[0], "delay": delay[0]}
    values = {"sounds": Reading(1, "yes/no"), "returns": Reading(1, "yes/no")}
    sheet = Sheet(values, {"high_pressure_trials": (row,)}, {"alarm": "high-pressure"})
    return Case("alarms", sheet, draws.context(), truth)


VENTILATION = {
    "ventilator": ventilator, "vaporizer": vaporizer, "gas monitor": gas_monitor, "displays": displays, "alarm": alarm,
}  # fmt: skip
