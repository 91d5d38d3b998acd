"""A technician with a phone or a tablet writes a remark and takes photographs."""

import re

import pytest
from playwright.sync_api import expect

from inspections.models import Photograph, StepRemark
from tests.factories import NOON
from tests.fleet.photographs.pictures import archive, four_corners, stored
from tests.inspections.scenes import make_scene
from tests.services.browser import TABLET, intercept

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    scene = make_scene(tmp_path, at=NOON)
    log_in(scene.technician)
    browser_page.set_viewport_size(PHONE)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def file(content=None, *, name="hose.jpg", width=96):
    content = stored(four_corners(width)) if content is None else content
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


def written(folder, files):
    """Write files, and return their paths: a large one is not sent through the browser's protocol."""
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def choose(page, *files):
    page.locator("[data-photographs] input[type=file]").last.set_input_files(list(files))


def width_of(picture):
    """How many pixels of a picture have arrived; it is loaded when it is scrolled to."""
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("complete", True)
    return picture.evaluate("image => image.naturalWidth")


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_photographs_are_sent_one_by_one_and_shown(bench, size):
    page, _ = bench
    page.set_viewport_size(size)
    page.get_by_label("What the next photograph shows").fill("Worn hose")
    choose(page, file(), file(width=80, name="seat.jpg"))
    pictures = page.locator(".photo-list img")
    expect(pictures).to_have_count(2)
    assert [width_of(pictures.nth(number)) for number in (0, 1)] == [96, 80]
    expect(pictures.first).to_have_attribute("alt", "Worn hose")
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert Photograph.objects.count() == 2
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Remove photograph 1").click()
    expect(pictures).to_have_count(1)
    assert Photograph.objects.in_place().get().width == 80


def test_what_is_no_photograph_is_refused_beside_it_and_the_good_one_is_saved(bench, tmp_path):
    page, _ = bench
    files = {"archive.jpg": archive(), "large.jpg": bytes(15_000_001), "good.jpg": stored(four_corners())}
    choose(page, *written(tmp_path, files))
    expect(page.get_by_text("“large.jpg” has 15.0 MB, which is too much. Accepted: ")).to_be_visible()
    expect(page.locator(".photo-list img")).to_have_count(1)
    choose(page, file(archive(), name="archive.jpg"))
    expect(page.get_by_text("“archive.jpg” is an archive (ZIP), not a photograph.")).to_be_visible()
    assert Photograph.objects.get().width == 96


def test_a_photograph_that_received_no_answer_is_sent_again_and_leaving_waits_for_it(bench):
    page, scene = bench
    is_cut, sent = True, []

    def answer(route):
        if is_cut:
            route.abort()
        else:
            sent.append(route)
            route.continue_()

    intercept(page, "**/photographs/", answer)
    choose(page, file())
    expect(page.get_by_text("“hose.jpg”: not saved, will be sent again")).to_be_visible()
    assert not Photograph.objects.exists()
    is_cut = False
    page.get_by_role("link", name=re.compile("Oxygen supply alarm")).first.click()
    page.wait_for_url(f"**{scene.step('alarm').get_absolute_url()}")
    assert Photograph.objects.count() == 1 and len(sent) == 1


def test_a_remark_saves_itself_and_says_so(bench):
    page, scene = bench
    remark = page.get_by_label("Remark (optional)")
    remark.fill("The valve sticks.")
    remark.press("Tab")
    expect(page.locator(".remark-state")).to_contain_text("saved")
    page.reload()
    expect(remark).to_have_value("The valve sticks.")
    assert StepRemark.objects.get().by == scene.technician
