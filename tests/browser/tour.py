"""The pictures of README.md, made from the demonstration: make tour. No run of the whole suite collects this file."""

import io

import pytest
from django.conf import settings
from django.core.management import call_command
from PIL import Image

from config.demo.scenario import read_scenario
from fleet.models import Machine
from inspections.models import Inspection, Stage
from tests.services.browser import log_in_by_form

FOLDER = settings.BASE_DIR / "config" / "static" / "bobbin" / "tour"
PAGE = {"width": 1280, "height": 860}
MOST_BYTES = 60_000
COLOURS = (64, 32, 16, 8)


@pytest.fixture
def page(browser_page, transactional_db):
    call_command("demo")
    browser_page.set_viewport_size(PAGE)
    return browser_page


def test_the_pictures_of_the_tour(page):
    password = read_scenario()["password"]
    log_in_by_form(page, "technician", password)
    take(page, step_in_progress(), "inspection")
    take(page, f"/machines/{Machine.objects.get(asset_number='OH-014').pk}/circuit/", "circuit")
    page.context.clear_cookies()
    log_in_by_form(page, "manager", password)
    take(page, "/cover/", "cover")


def step_in_progress():
    """Return the address of the last step that has results in the inspection that the demonstration leaves open."""
    inspection = Inspection.objects.filter(stage=Stage.ON_BENCH).first()
    step = inspection.steps.filter(readings__isnull=False).distinct().last()
    return f"/inspections/{inspection.pk}/bench/{step.pk}/"


def take(page, address, name):
    page.goto(address)
    page.wait_for_load_state("networkidle")
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
