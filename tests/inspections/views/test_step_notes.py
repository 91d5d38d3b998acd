import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.photographs import cleaning
from inspections.actions import add_photograph, void_inspection, write_remark
from inspections.models import Photograph, StepRemark
from inspections.models.step_notes import LONGEST_REMARK, MOST_PHOTOGRAPHS
from tests.factories import NOON, make_person, make_site
from tests.fleet.photographs.pictures import NO_PHOTOGRAPHS, clean_picture, four_corners, stored, turned

HTMX = {"HX-Request": "true"}


@pytest.fixture
def bench(scene, client, time_machine):
    time_machine.move_to(NOON, tick=False)
    client.force_login(scene.technician)
    return client


def send_remark(client, scene, text, **fields):
    return client.post(scene.url("remark"), {"remark": text, **fields}, headers=HTMX)


def send(client, scene, content=None, *, name="hose.jpg", headers=HTMX, **fields):
    file = SimpleUploadedFile(name, stored(four_corners()) if content is None else content)
    return client.post(scene.url("photograph_add"), {"photograph": file, **fields}, headers=headers)


def photograph_of(scene, width=96):
    return add_photograph(scene.step(), clean_picture(width), by=scene.technician, at=NOON)


class TestRemark:
    def test_is_saved_by_itself_and_shown_with_who_and_when(self, bench, scene):
        answer = send_remark(bench, scene, "Valve sticks.\r\nCleaned.")
        assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
        assert "saved 12:00, Ana Ferro" in answer.text and f'id="remark-state-{scene.step().pk}"' in answer.text
        assert StepRemark.objects.get().text == "Valve sticks.\nCleaned."
        assert ">Valve sticks.\nCleaned.</textarea>" in bench.get(scene.step_url).text

    @pytest.mark.parametrize("end", ["\n", "\r\n"])
    def test_of_the_longest_length_is_accepted_and_one_more_is_refused(self, bench, scene, end):
        longest = "a" * (LONGEST_REMARK - 2) + end + "b"
        assert send_remark(bench, scene, longest).status_code == 200
        answer = send_remark(bench, scene, longest + "c", seen="")
        assert (answer.status_code, answer["Bench-Answer"]) == (422, "refused")
        assert "has 1,001 characters; at most 1,000 are accepted" in answer.text
        assert len(StepRemark.objects.get().text) == LONGEST_REMARK

    def test_that_cannot_be_printed_is_refused(self, bench, scene):
        answer = send_remark(bench, scene, "a\x1bb")
        assert answer.status_code == 422 and "U+001B (escape)" in answer.text

    def test_of_somebody_else_written_meanwhile_is_shown_and_can_be_replaced(self, bench, scene):
        write_remark(scene.step(), "Mine.", by=scene.other, at=NOON - timedelta(minutes=2))
        answer = send_remark(bench, scene, "Yours.", seen="")
        assert (answer.status_code, answer["Bench-Answer"]) == (409, "refused")
        assert "Rui Serra wrote at 11:58: “Mine.”" in answer.text
        instead = re.search(r'name="instead" value="([^"]+)"', answer.text)[1]
        assert send_remark(bench, scene, "Yours.", seen="", instead=instead).status_code == 200
        assert StepRemark.objects.get().text == "Yours."

    def test_that_is_refused_without_scripts_stays_in_its_field(self, bench, scene):
        answer = bench.post(scene.url("remark"), {"remark": "x" * 1001})
        assert answer.status_code == 422
        assert f">{'x' * 1001}</textarea>" in answer.text and "at most 1,000 are accepted" in answer.text
        assert scene.step_url in answer.text

    def test_that_is_saved_without_scripts_leads_back_to_the_step(self, bench, scene):
        answer = bench.post(scene.url("remark"), {"remark": "Sticks."})
        assert (answer.status_code, answer["Location"]) == (302, scene.step_url)


class TestPhotograph:
    def test_is_saved_and_shown_with_its_caption_as_alternative_text(self, bench, scene):
        answer = send(bench, scene, caption="Worn “hose”")
        photograph = Photograph.objects.get()
        assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
        assert 'alt="Worn “hose”"' in answer.text and photograph.preview_url in answer.text
        assert f'href="{photograph.get_absolute_url()}"' in bench.get(scene.step_url).text

    def test_without_a_caption_is_called_by_its_number_and_step(self, bench, scene):
        photograph_of(scene, 80)
        assert 'alt="Photograph 2 of Oxygen supply failure: nitrous oxide"' in send(bench, scene).text

    def test_with_its_place_is_stored_without_it(self, bench, scene):
        sent = turned(6, "JPEG")
        assert b"Ward 7" in sent
        assert send(bench, scene, sent).status_code == 200
        found = Photograph.objects.with_pictures().get()
        assert b"Exif" not in bytes(found.content) and b"Ward 7" not in bytes(found.content)
        assert (found.width, found.height) == (96, 64)

    @pytest.mark.parametrize("kind", sorted(NO_PHOTOGRAPHS.keys() - {"too many bytes", "40 MB"}))
    def test_that_is_none_is_refused_with_a_sentence_and_nothing_is_saved(self, bench, scene, kind):
        made, said = NO_PHOTOGRAPHS[kind]
        answer = send(bench, scene, made(), name="photo.jpg")
        assert (answer.status_code, answer["Bench-Answer"]) == (422, "refused")
        assert "“photo.jpg” " in answer.text and said in answer.text.replace("&#x27;", "'")
        assert "Accepted: a photograph as JPEG" in answer.text and "Nothing was saved." in answer.text
        assert not Photograph.objects.exists()

    @pytest.mark.parametrize("length", [15_200_000, 40_000_000])
    def test_that_is_too_large_is_refused_before_it_is_read(self, bench, scene, length):
        answer = bench.post(
            scene.url("photograph_add"), b"x", content_type="multipart/form-data; boundary=x", headers=HTMX,
            CONTENT_LENGTH=str(length),
        )  # fmt: skip
        assert (answer.status_code, answer["Bench-Answer"]) == (413, "refused")
        assert "at most 15,000,000 bytes" in answer.text

    def test_without_a_file_is_refused(self, bench, scene):
        answer = bench.post(scene.url("photograph_add"), {"caption": "a"}, headers=HTMX)
        assert answer.status_code == 422 and "Choose a photograph. Accepted: " in answer.text

    def test_one_too_many_is_refused(self, bench, scene):
        for width in range(40, 40 + MOST_PHOTOGRAPHS):
            photograph_of(scene, width)
        answer = send(bench, scene)
        assert answer.status_code == 422 and "has 12 photographs already" in answer.text

    def test_that_arrives_while_others_are_read_is_asked_for_again(self, bench, scene, monkeypatch):
        busy = cleaning.Limits(10, 20.0, 1, 1, cleaning.Turns(waiting=0, patience_s=0))
        monkeypatch.setattr(cleaning.clean_photograph, "__kwdefaults__", {"name": "", "limits": busy})
        with busy.turns.taken():
            answer = send(bench, scene)
        assert (answer.status_code, answer["Retry-After"]) == (503, "3")
        assert "Bench-Answer" not in answer and not Photograph.objects.exists()

    def test_sent_without_scripts_leads_back_to_the_step(self, bench, scene):
        answer = send(bench, scene, headers={})
        assert (answer.status_code, answer["Location"]) == (302, scene.step_url)
        refused = send(bench, scene, b"PK\x03\x04", headers={}, caption="Hose")
        assert refused.status_code == 422 and "is an archive (ZIP)" in refused.text and scene.step_url in refused.text

    def test_gets_another_caption_and_is_removed(self, bench, scene):
        photograph = photograph_of(scene)
        caption, remove = (
            reverse(f"inspections:photograph_{act}", args=[photograph.pk]) for act in ("caption", "remove")
        )
        answer = bench.post(caption, {"caption": "Hose"}, headers=HTMX)
        assert answer["Bench-Answer"] == "kept" and 'alt="Hose"' in answer.text
        long = bench.post(caption, {"caption": "x" * 201}, headers=HTMX)
        assert long.status_code == 422 and "The caption has 201 characters" in long.text
        answer = bench.post(remove, headers=HTMX)
        assert answer["Bench-Answer"] == "kept" and "<img" not in answer.text
        assert Photograph.objects.get().removed_by == scene.technician


def acts(scene, photograph):
    """Every change of this room: address and fields."""
    file = SimpleUploadedFile("a.jpg", stored(four_corners(70)))
    of = [photograph.pk]
    return {
        "remark": (scene.url("remark"), {"remark": "Late."}),
        "add": (scene.url("photograph_add"), {"photograph": file}),
        "caption": (reverse("inspections:photograph_caption", args=of), {"caption": "Late"}),
        "remove": (reverse("inspections:photograph_remove", args=of), {}),
    }


ACTS = ["remark", "add", "caption", "remove"]


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("end", ["signed", "void"])
def test_nothing_is_changed_after_the_signature_and_the_answer_says_so(bench, scene, act, end):
    photograph = photograph_of(scene)
    if end == "signed":
        scene.complete()
        scene.sign(at=NOON)
    else:
        void_inspection(
            scene.inspection, reason="Wrong machine", by=scene.technician, at=NOON, although_in_progress=True
        )
    url, fields = acts(scene, photograph)[act]
    answer = bench.post(url, fields, headers=HTMX)
    assert (answer.status_code, answer["Bench-Answer"]) == (409, "frozen")
    assert "readings are locked" in answer.text
    plain = bench.post(*acts(scene, photograph)[act])
    assert plain.status_code == 409 and scene.inspection.get_absolute_url() in plain.text
    assert not StepRemark.objects.exists() and Photograph.objects.in_place().get().caption == ""


@pytest.mark.parametrize("act", ACTS)
def test_only_a_technician_of_the_site_changes_notes(client, scene, act):
    url, fields = acts(scene, photograph_of(scene))[act]
    statuses = {}
    for group in ("technician", "planner", "manager", "auditor"):
        client.force_login(make_person(group))
        statuses[group] = client.post(url, fields, headers=HTMX).status_code
    assert statuses == {"technician": 200, "planner": 403, "manager": 403, "auditor": 403}
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.post(url, fields, headers=HTMX).status_code == 404
    client.force_login(scene.technician)
    assert client.get(url).status_code == 405


def test_the_bench_asks_as_often_with_twelve_photographs_as_with_one(bench, scene):
    photograph_of(scene)
    with CaptureQueriesContext(connection) as one:
        bench.get(scene.step_url)
    for width in range(40, 51):
        photograph_of(scene, width)
    with CaptureQueriesContext(connection) as twelve:
        bench.get(scene.step_url)
    assert len(twelve) == len(one)
    assert not any('"content"' in query["sql"] and "photograph" in query["sql"] for query in twelve)
