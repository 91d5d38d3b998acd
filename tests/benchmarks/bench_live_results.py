"""Server time of one reading with its live result, for every bench test with the readings of its example.

`python -m tests.benchmarks.bench_live_results`. Each test is a step of an inspection in a new SQLite store; the request
is the one that the bench page sends when a field is left. The goal is a median of 30 ms or less. On a computer that is
busy with other work `--processor-time` leaves out what the server waits for: its turn, and the disk.
"""

import argparse
import tempfile
import time
from pathlib import Path

GOAL_S = 0.030
OPPOSITE = {"yes": "no", "no": "yes"}
BASELINE = "an address that does not exist"


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_live_results")
    parser.add_argument("--processor-time", action="store_true", help="count what the processor worked, not the clock")
    parser.add_argument("--repeats", type=int, default=25, help="readings of each bench test, default 25")
    options = parser.parse_args()
    clock = time.process_time if options.processor_time else time.perf_counter
    with tempfile.TemporaryDirectory(prefix="bobbin-live-") as folder:
        measure_in(Path(folder), options.repeats, clock)


def measure_in(folder, repeats, clock):
    from tests.benchmarks.databases import set_up, variables
    from tests.services.bobbin import manage

    url = f"sqlite:///{folder / 'live.sqlite3'}"
    manage("migrate", "--verbosity=0", **variables(url))
    set_up(url)
    from django.test import override_settings

    from tests.benchmarks.harness import measure, table

    with override_settings(ROOT_URLCONF="config.urls"):
        cases = cases_in(folder)
        timings = measure(cases, repeats=repeats, clock=clock)
    title = f"One reading with its live result, {clock.__name__.replace('_', ' ')}"
    print(table(title, timings, baseline=BASELINE))
    missed = [one.name for one in timings if one.median > GOAL_S and one.name != BASELINE]
    print(f"{len(timings) - 1} bench tests; above {GOAL_S * 1e3:.0f} ms at the median: {', '.join(missed) or 'none'}")


def cases_in(folder):
    """Name -> request, for every bench test; each request must answer with a page."""
    from django.test import Client

    from inspections.bench.examples import EXAMPLES
    from tests.inspections.scenes import make_scene

    scene = make_scene(folder, text=procedure_text(EXAMPLES))
    client = Client(SERVER_NAME="localhost")
    client.force_login(scene.technician)
    cases = {BASELINE: lambda: client.get("/nothing-is-here/")}
    for code in EXAMPLES:
        cases[code] = LiveResult(client, scene, code)
        assert cases[code]().status_code == 200, code
    return cases


def procedure_text(examples):
    """A procedure with one step for each bench test."""
    head = 'code = "yearly"\ntitle = "Every bench test"\ninterval_months = 12\n'
    return head + "".join(step_text(code) for code in examples)


def step_text(code):
    item = 'item = "Seen."\nsource = "invented"\n' if code == "observation" else ""
    gas = 'gas = "nitrous-oxide"\n' if code == "supply-failure" else ""
    return f'\n[[step]]\ncode = "{code}"\ntitle = "{code}"\ntest = "{code}"\n{item}{gas}'


class LiveResult:
    """Enters the example of a test but for its last reading, which it then enters again and again."""

    def __init__(self, client, scene, code):
        from django.urls import reverse

        from inspections.at_bench.slots import fixed_choices
        from inspections.bench.examples import EXAMPLES

        self.client, self.count = client, 0
        step = scene.step(code)
        sent = [one for one in readings_of(EXAMPLES[code]) if one[0] not in fixed_choices(step)]
        for field, said in sent:
            scene.enter(field, code=code, **said)
        self.field, self.said = next((one for one in reversed(sent) if one[1].get("unit")), sent[-1])
        self.url = reverse("inspections:reading_enter", args=[step.pk])

    def __call__(self):
        from inspections.at_bench.field_names import place_names

        names = place_names(self.field, self.said.get("row", 0), self.said.get("column", ""))
        self.count += 1
        data = {"slot": names.value, names.value: self.other_spelling() if self.count % 2 else self.said["as_read"]}
        if self.said.get("unit"):
            data |= {names.unit: self.said["unit"], names.zero: self.said.get("zero", "")}
        return self.client.post(self.url, data, headers={"HX-Request": "true"})

    def other_spelling(self):
        """The same reading with another digit, or the opposite answer: what is saved already is not saved again."""
        text = self.said["as_read"]
        if text in OPPOSITE:
            return OPPOSITE[text]
        return f"{text}0" if "." in text else f"{text}.0" if self.said.get("unit") else text


def readings_of(example):
    """Yield (field, what is sent) for each choice and reading of an example, in the order of the form."""
    for key, option in example.get("choices", {}).items():
        yield key, {"as_read": option}
    for key, reading in example.get("values", {}).items():
        yield key, said(reading)
    for key, rows in example.get("tables", {}).items():
        for row, cells in enumerate(rows):
            for column, reading in cells.items():
                yield key, {"row": row, "column": column, **said(reading)}


def said(reading):
    """What is sent for a reading of an example; of repeats the first."""
    value, unit = reading["value"], reading.get("unit", "")
    value = value[0] if isinstance(value, list) else value
    if unit == "yes/no":
        return {"as_read": "yes" if value else "no"}
    return {"as_read": str(value), "unit": unit, "zero": reading.get("zero", "")}


if __name__ == "__main__":
    main()
