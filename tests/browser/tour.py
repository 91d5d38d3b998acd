"""The pictures of README.md, with the demonstration's hospitals: make tour. The whole suite does not collect this."""

import io
from datetime import timedelta

import pytest
from django.conf import settings
from django.core.management import call_command
from django.utils import timezone
from PIL import Image

from config.demo.history import History
from config.demo.machine_circuits import fit_components
from config.demo.scenario import REGISTER, create_scenario, read_scenario
from fleet.models import Machine
from inspections.actions import load_procedures, plan_inspection
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.models import Procedure
from tests.services.browser import log_in_by_form

FOLDER = settings.BASE_DIR / "config" / "static" / "bobbin" / "tour"
PAGE = {"width": 1280, "height": 860}
MOST_BYTES = 60_000
COLOURS = (64, 32, 16, 8)
MACHINE = "OH-014"
STEPS = 3  # measured in the inspection in progress


@pytest.fixture
def hospitals(transactional_db):
    """The register of the demonstration, without its history; return the machine of the pictures."""
    people = create_scenario(read_scenario(), timezone.localdate())
    call_command("import_register", str(REGISTER), "--by", "planner")
    machine = Machine.objects.with_place().get(asset_number=MACHINE)
    fit_components(machine)
    load_procedures(DIRECTORY, at=timezone.now())
    return machine, people


def test_the_pictures_of_the_tour(browser_page, hospitals):
    machine, people = hospitals
    page, password = browser_page, read_scenario()["password"]
    page.set_viewport_size(PAGE)
    log_in_by_form(page, "technician", password)
    take(page, step_in_progress(machine, people), "inspection")
    take(page, f"/machines/{machine.pk}/circuit/", "circuit", scroll_to="#shown")
    page.context.clear_cookies()
    log_in_by_form(page, "manager", password)
    take(page, "/cover/", "cover", scroll_to=".matrix")


def step_in_progress(machine, people):
    """Begin a yearly inspection of the machine and return the address of the last step that was measured."""
    today, yearly = timezone.localdate(), Procedure.objects.get(code="yearly")
    inspection = plan_inspection(machine, yearly, due_on=today, by=people["planner"], at=timezone.now())
    History(people, today).leave_open(inspection, today - timedelta(days=1), steps=STEPS)
    step = inspection.steps.filter(readings__isnull=False).distinct().last()
    return f"/inspections/{inspection.pk}/bench/{step.pk}/"


def take(page, address, name, *, scroll_to=""):
    page.goto(address)
    page.wait_for_load_state("networkidle")
    if scroll_to:
        page.locator(scroll_to).first.evaluate("element => element.scrollIntoView()")
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / f"{name}.png").write_bytes(small(Image.open(io.BytesIO(page.screenshot()))))


def small(picture):
    """Return a picture as PNG below MOST_BYTES, with as many colours as fit."""
    for colours in COLOURS:
        out = io.BytesIO()
        picture.convert("RGB").quantize(colours, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
        if out.tell() < MOST_BYTES:
            return out.getvalue()
    raise AssertionError(f"A picture takes {out.tell()} bytes in {COLOURS[-1]} colours.")
