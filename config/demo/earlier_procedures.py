"""The first versions of the demonstration's procedures, made from the shipped files."""

import re
import shutil
import tempfile
from datetime import timedelta
from pathlib import Path

from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY, SHARED_STEPS

COMPLETE_FOR = timedelta(days=21)  # how long before today the department began to work by the shipped procedures
USED_STEP = re.compile(r'^\[\[step\]\]\nuse = "(?P<code>[^"]+)"\n(?:(?!\[\[).*\n)*', re.MULTILINE)
FIRST_PROCEDURES = ("yearly", "half-yearly", "acceptance", "return-to-service")
FIRST_STEPS = frozenset({
    "pipeline-oxygen", "supply-failure", "oxygen-alarm", "regulator", "reserve-oxygen", "yoke-check-valves",
    "pin-index", "pipeline-fittings", "pipeline-check-valves", "inlet-filters", "gauges", "main-switch", "mixture",
    "single-control", "oxygen-last", "oxygen-control", "control-guard", "exclusion", "dial-direction", 
    "low-pressure-leak", "breathing-system-leak", "one-way-valves", "flush", "flush-guard", "analyser",
    "outlet-retention", "breathing-connectors", "connectors", "scavenging-relief", "disconnection-alarm",
    "pressure-alarm", "apl", "selector", "agent-monitor", "carbon-dioxide-monitor", "battery", "protective-earth",
    "checkout",
})  # fmt: skip
OBSERVED = {  # what is measured now, and was looked at in the first version
    "one-way-valves": "Both discs lift and fall with each breath of a test lung; gas blown backwards does not pass.",
    "scavenging-relief": "With no flow the reservoir bag does not collapse; with the flush held, pressure stays low.",
    "battery": "Alarms, monitors and ventilator run on the battery for 30 minutes, and the change sounds an alarm.",
    "disconnection-alarm": "With the ventilator running into a test lung, disconnecting the Y-piece sounds the alarm.",
    "pressure-alarm": "A pressure above the set limit, and one that stays up, each sound the alarm.",
    "connectors": "The 30 mm gauge fits every scavenging connector, and no breathing hose can be pushed on.",
    "exclusion": "With any one vaporizer on, no other can be turned on, at every pair in both orders.",
    "protective-earth": "An electrical safety tester shows no more than 0.3 Ω between plug and metal to be touched.",
}


def load_earlier_procedures(*, at):
    """Load the shipped procedures as the invented department had them in its first years. Return the versions.

    Two years of complete inspections of the whole fleet would make the demonstration several times slower, and would
    show no version but the newest. So the first version has only FIRST_STEPS, with an observation where the shipped
    step measures; the history loads the shipped files COMPLETE_FOR before today, as version 2, and only the
    inspections since then have every step. The weekly check and the check before use begin with the shipped files.
    """
    with tempfile.TemporaryDirectory(prefix="bobbin-earlier-") as folder:
        shutil.copy(DIRECTORY / SHARED_STEPS, folder)
        for code in FIRST_PROCEDURES:
            text = (DIRECTORY / f"{code}.toml").read_text(encoding="utf-8")
            Path(folder, f"{code}.toml").write_text(earlier_text(text), encoding="utf-8")
        return load_procedures(Path(folder), at=at)


def earlier_text(text):
    """Return a procedure file without the steps that came later, and with observations where it measures now."""
    return USED_STEP.sub(lambda found: _first_step(found) if found["code"] in FIRST_STEPS else "", text)


def _first_step(found):
    item = OBSERVED.get(found["code"])
    if item is None:
        return found[0]
    head = f'[[step]]\nuse = "{found["code"]}"\ntest = "observation"\n'
    return f'{head}item = "{item}"\ninstruction = ""\nchoices = {{}}\nfinds = []\n\n'
