"""Checks that follow each other are on one page; each is saved by itself and stays a step of the record."""

import pytest
from django.urls import reverse

from inspections.models import Reading
from tests.factories import NOON, make_person, make_site
from tests.inspections.scenes import make_scene

CHECK = """
[[step]]
code = "{code}"
title = "Check {code}"
test = "observation"
item = "The {code} is sound."
source = "-"
"""
FLUSH = """
[[step]]
code = "flush"
title = "Oxygen flush"
test = "oxygen-flush"
"""


def procedure(*codes):
    steps = [FLUSH if code == "flush" else CHECK.format(code=code) for code in codes]
    return f'code = "checks"\ntitle = "Checks"\n{"".join(steps)}'


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def scene(tmp_path, db):
    return make_scene(tmp_path, text=procedure("guard", "filter", "flush", "valve", "hose", "knob"))


@pytest.fixture
def bench(scene, client):
    client.force_login(scene.technician)
    return client


def page(bench, scene, code):
    return bench.get(scene.step(code).get_absolute_url())


def answer(bench, scene, code, word, *, kept="", **more):
    names = f"s{scene.step(code).pk}.seen"
    data = {"slot": "seen", names: word, f"{names}:kept": kept} | more
    return bench.post(scene.url("reading_enter", code), data, headers={"HX-Request": "true"})


def given(scene):
    return {reading.step.code: reading.as_read for reading in Reading.objects.current().select_related("step")}


def send(bench, scene, code, data, *, to="bench_step"):
    step = scene.step(code)
    url = step.get_absolute_url() if to == "bench_step" else reverse(f"inspections:{to}", args=[step.pk])
    return bench.post(url, data, headers={"Bench-Request": "yes"})


@pytest.mark.parametrize(("code", "shown"), [("guard", ["guard", "filter"]), ("filter", ["guard", "filter"]),
                                             ("hose", ["valve", "hose", "knob"])])  # fmt: skip
def test_a_page_holds_the_checks_that_follow_each_other_and_opens_at_the_one_asked_for(bench, scene, code, shown):
    text = page(bench, scene, code).text
    assert [one for one in ("guard", "filter", "valve", "hose", "knob") if f"The {one} is sound." in text] == shown
    assert text.count("data-here") == 1
    assert f'data-check="{scene.step(code).pk}" data-here' in text


def test_each_check_is_saved_by_itself_in_its_own_step(bench, scene):
    kept = answer(bench, scene, "hose", "yes")
    assert (kept.status_code, kept["Bench-Answer"], kept["Bench-Seen"]) == (200, "kept", str(Reading.objects.get().pk))
    assert answer(bench, scene, "knob", "no").status_code == 200
    assert given(scene) == {"hose": "yes", "knob": "no"}
    assert f'id="mark-{scene.step("hose").pk}"' in kept.text and "pass" in kept.text


def test_the_answer_says_how_many_of_the_page_are_answered(bench, scene):
    assert "1 of 3" in answer(bench, scene, "hose", "yes").text
    text = answer(bench, scene, "knob", "no").text
    assert "2 of 3" in text and "1 with No" in text


def test_an_answer_that_the_page_did_not_show_is_not_replaced(bench, scene):
    first = answer(bench, scene, "hose", "yes")
    second = answer(bench, scene, "hose", "no")
    assert (second.status_code, second["Bench-Answer"]) == (409, "contested")
    assert 'data-shows="yes"' in second.text and "Use no" in second.text
    assert given(scene) == {"hose": "yes"}
    assert answer(bench, scene, "hose", "no", kept=first["Bench-Seen"]).status_code == 200


def test_the_choice_between_two_answers_is_made_on_the_page_of_any_check_of_it(bench, scene):
    answer(bench, scene, "hose", "yes")
    answer(bench, scene, "hose", "no")
    send(bench, scene, "knob", {"page": "checks", "stand": Reading.objects.contested().get().pk})
    assert given(scene) == {"hose": "no"}


def test_without_scripts_one_form_saves_every_answer_and_goes_on_behind_the_last(bench, scene):
    names = {code: f"s{scene.step(code).pk}.seen" for code in ("valve", "hose", "knob")}
    data = {names["valve"]: "yes", f"{names['valve']}:kept": "", names["hose"]: "no", names["knob"]: ""}
    reply = bench.post(scene.step("valve").get_absolute_url(), data | {"page": "checks", "then": "next"})
    assert reply.url == reverse("inspections:sign", args=[scene.inspection.pk])
    assert given(scene) == {"valve": "yes", "hose": "no"}
    first = bench.post(scene.step("guard").get_absolute_url(), {"page": "checks", "then": "next"})
    assert first.url == scene.step("flush").get_absolute_url()


def test_each_check_can_be_marked_as_not_tested_and_undone(bench, scene):
    reply = send(bench, scene, "valve", {"reason": "No hose today.", "then": "next"}, to="not_tested")
    assert (reply["Bench-Answer"], reply["Bench-Location"]) == ("kept", scene.step("hose").get_absolute_url())
    text = page(bench, scene, "hose").text
    assert "No hose today." in text and "1 of 3" in text
    assert send(bench, scene, "valve", {"undo": "yes"}, to="not_tested")["Bench-Answer"] == "kept"
    assert scene.step("valve").not_tested_reason == ""


def test_a_script_is_told_in_a_sentence_what_was_refused(bench, scene):
    reply = send(bench, scene, "valve", {"reason": " "}, to="not_tested")
    assert (reply.status_code, reply["Bench-Answer"]) == (422, "refused")
    assert reply.text.startswith("State why this step is not tested")
    scene.inspection.__class__.objects.update(stage="void", void_reason="Wrong machine")
    reply = send(bench, scene, "valve", {"reason": "No hose"}, to="not_tested")
    assert (reply.status_code, reply["Bench-Answer"]) == (409, "frozen")


def test_a_script_is_told_what_was_refused_of_a_whole_form(bench, scene):
    reply = send(bench, scene, "flush", {"flow": "fast", "flow:unit": "L/min"})
    assert (reply.status_code, reply["Bench-Answer"]) == (422, "refused")
    assert "“fast” is not a number" in reply.text
    assert send(bench, scene, "flush", {"flow": "50", "flow:unit": "L/min"})["Bench-Answer"] == "kept"


def test_last_times_answer_stands_beside_each(bench, scene):
    for code in ("guard", "filter", "valve", "hose"):
        scene.enter("seen", "no" if code == "valve" else "yes", code=code)
    for code in ("knob", "flush"):
        scene.leave_untested(code, "Not today.")
    scene.sign()
    scene.again(at=NOON)
    text = page(bench, scene, "valve").text
    assert text.count("last inspection <b>no</b>") == 1
    assert text.count("last inspection <b>yes</b>") == 1


def test_a_page_of_many_checks_costs_the_queries_of_one(bench, scene, tmp_path, django_assert_max_num_queries):
    many = make_scene(tmp_path, text=procedure(*(f"part-{number}" for number in range(12))))
    bench.force_login(many.technician)
    for number in range(6):
        many.enter("seen", "yes", code=f"part-{number}")
    page(bench, many, "part-3")
    with django_assert_max_num_queries(PAGE_QUERIES):
        page(bench, many, "part-3")


PAGE_QUERIES = 21


def test_a_check_of_another_site_is_not_found(client, scene):
    client.force_login(make_person("technician", sites=[make_site()]))
    assert page(client, scene, "hose").status_code == 404
    assert answer(client, scene, "hose", "yes").status_code == 404
