"""The paper of a signed record with a step of every bench test: printed first, and asked for again.

`python -m tests.benchmarks.bench_record_paper`. Goals: first at most 1.5 times what reportlab alone needs for the same
texts, tables and drawings, all at hand; again at most 3 times an empty page. `--processor-time` is that of
bench_live_results.
"""

import argparse
import tempfile
import time
from copy import copy
from io import BytesIO
from pathlib import Path

FIRST, AGAIN = 1.5, 3
ALONE, EMPTY = "reportlab alone", "an empty page"
NAMES = ("record PDF, first", "record PDF, again")


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_record_paper")
    parser.add_argument("--processor-time", action="store_true", help="count what the processor worked, not the clock")
    clock = time.process_time if parser.parse_args().processor_time else time.perf_counter
    with tempfile.TemporaryDirectory(prefix="bobbin-paper-") as folder:
        measure_in(Path(folder), clock)


def measure_in(folder, clock):
    from tests.benchmarks.databases import set_up, variables
    from tests.services.bobbin import manage

    url = f"sqlite:///{folder / 'paper.sqlite3'}"
    manage("migrate", "--verbosity=0", **variables(url))
    set_up(url)
    from django.test import override_settings

    from tests.benchmarks.harness import measure, table

    with override_settings(ROOT_URLCONF="tests.benchmarks.urls"):
        cases, sizes = cases_in(folder)
        timings = measure(cases, repeats=9, clock=clock)
    print(table(f"The paper of a record, {clock.__name__.replace('_', ' ')}", timings, baseline=ALONE))
    print(sizes)
    medians = {one.name: one.median for one in timings}
    for name, baseline, most in ((NAMES[0], ALONE, FIRST), (NAMES[1], EMPTY, AGAIN)):
        print(f"{name}: {medians[name] / medians[baseline]:.2f} times {baseline}, goal {most}")


def cases_in(folder):
    """Name -> function, and in words how much the paper and that of reportlab alone hold."""
    from django.urls import reverse

    from inspections.reports.record_again import PAPERS

    client, inspection = signed_inspection(folder)
    url = reverse("inspections:record_pdf", args=[inspection.pk])

    def first():
        PAPERS.clear()
        return client.get(url).content

    parts = parts_of(inspection)
    cases = {EMPTY: lambda: client.get("/empty/"), ALONE: lambda: plain_paper(parts)}
    cases |= {NAMES[0]: first, NAMES[1]: lambda: client.get(url).content}
    return cases, f"{size_of('record', first())}; {size_of(ALONE, plain_paper(parts))}"


def signed_inspection(folder):
    """Return the client of the technician, and the inspection with the example of every bench test, signed."""
    from django.test import Client

    from inspections.at_bench.slots import fixed_choices
    from inspections.bench.examples import EXAMPLES
    from tests.benchmarks.bench_live_results import procedure_text, readings_of
    from tests.inspections.scenes import make_scene

    scene = make_scene(folder, text=procedure_text(EXAMPLES))
    instrument = instrument_of_everything(scene.machine.site)
    for code in EXAMPLES:
        fixed = fixed_choices(scene.step(code))
        for field, said in readings_of(EXAMPLES[code]):
            if field not in fixed:
                named = {"instrument": instrument} if said.get("unit") else {}
                scene.enter(field, code=code, **said, **named)
    client = Client(SERVER_NAME="localhost")
    client.force_login(scene.technician)
    return client, scene.sign()


def instrument_of_everything(site):
    """An instrument with as wide a scale as is plausible for each dimension: every reading of a record names one."""
    from fleet.catalogue.dimensions import DIMENSIONS
    from tests.factories import make_instrument

    measured = [one for one in DIMENSIONS.values() if one.symbols and not one.is_answer]
    return make_instrument(site=site, scales=[widest_scale(one) for one in measured])


def widest_scale(dimension):
    from inspections.bench import from_si, interval_from_si

    unit, bounds = dimension.symbols[0], dimension.bounds
    ends = {"low": from_si(bounds.low, unit), "high": from_si(bounds.high, unit)}
    resolution = interval_from_si(bounds.finest, unit)
    return {"dimension": dimension.code, "unit": unit, **ends, "resolution": resolution, "of_reading_percent": 1}


def size_of(name, paper):
    from pypdf import PdfReader

    pages = PdfReader(BytesIO(paper)).pages
    return f"{name}: {len(pages)} pages, {sum(len(page.extract_text()) for page in pages)} letters"


def parts_of(inspection):
    """Return the texts, tables and drawings of a record, ready for reportlab: what `plain_paper` prints.

    ("text", words), ("table", rows of words) or ("picture", drawing)
    """
    from inspections.drawing import curve, limit_bar
    from inspections.records.signed_record import ShownRecord

    found = []
    for step in ShownRecord(inspection.record).tested:
        found += [("text", step.title), ("text", step.content["instruction"]), ("text", step.content["source"])]
        found.append(("table", [[one.label, one.text, one.instrument or "–"] for one in step.values]))
        for one in step.tables:
            rows = [[str(row), *(str(cell or "–") for cell in cells)] for row, cells in one.rows]
            found += [("text", one.label), ("table", [["Row", *one.columns], *rows])]
        for shown in step.results:
            found += [("picture", limit_bar(shown.result, 250, 7.6)), *(("text", words) for words in said_of(shown))]
        found += [("picture", curve(one, 420, 8)) for one in step.evaluation.curves]
        found += [("text", remark) for remark in step.evaluation.remarks]
    return found


def said_of(shown):
    """What the record says of one result."""
    result, limit = shown.result, shown.result.limit
    rule = f"Rule: {limit.title}. Source: {limit.source}, edition {limit.edition} ({shown.basis})." if limit else ""
    return [result.label, str(shown.decision or "reported"), f"{shown.value} {shown.full_uncertainty}", shown.reason,
            f"Limit: {shown.limit}", rule, limit.note if limit else "", shown.confirmation, shown.probability,
            result.convention, result.remark]  # fmt: skip


def plain_paper(parts):
    """Print the parts with reportlab alone: paragraphs in its style, tables of paragraphs, drawings as they are."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, SimpleDocTemplate, Table

    style = ParagraphStyle("plain", fontName="Bobbin-Regular", fontSize=8, leading=9.5)

    def paragraph(words):
        return Paragraph(words.replace("&", "&amp;").replace("<", "&lt;"), style)

    story = []
    for kind, part in parts:
        if kind == "text" and part:
            story.append(paragraph(part))
        elif kind == "table" and part:
            story.append(Table([[paragraph(cell) for cell in row] for row in part], repeatRows=1))
        elif kind == "picture":
            story.append(copy(part))  # a build leaves its marks on what it prints
    buffer = BytesIO()
    SimpleDocTemplate(buffer, invariant=1).build(story)
    return buffer.getvalue()


if __name__ == "__main__":
    main()
