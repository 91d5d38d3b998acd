"""The repair part of the bench page, with scripts and without."""

from datetime import timedelta

import pytest
from django.urls import reverse

from inspections.actions import begin_as_left, record_replacement, void_inspection
from inspections.models import Finding, InspectionStep, Replacement
from tests.factories import NOON, make_model, make_person
from tests.fleet.circuit_texts import SMALL
from tests.inspections.actions.test_as_left import sweep
from tests.inspections.actions.test_component_replacements import TEXT
from tests.inspections.scenes import FAILING, PASSING, make_scene

EARLY = NOON - timedelta(hours=1)
VALVE = {"component": "cut-off-valve", "serial": "CV-2", "lot": "L-7", "removed_serial": "CV-1", "note": "Seat worn"}


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def scene(db, tmp_path):
    return make_scene(tmp_path, text=TEXT, at=EARLY, model=make_model(circuit=SMALL))


@pytest.fixture
def bench(scene, client):
    client.force_login(scene.technician)
    return client


@pytest.fixture(params=[True, False], ids=["with scripts", "without scripts"])
def post(bench, request):
    """post(name, pk, data): as a script sends it, or a form."""
    headers = {"HX-Request": "true"} if request.param else {}

    def post(name, pk, data=None):
        return bench.post(reverse(f"inspections:{name}", args=[pk]), data or {}, headers=headers)

    post.by_script = request.param
    return post


def led_to(answer):
    """Where the answer leads: by the header that a script follows, or by a redirect."""
    return answer.get("HX-Redirect") or answer.get("Location")


def test_the_page_offers_the_components_that_the_step_tests_first(bench, scene):
    scene.complete(at=EARLY)
    page = bench.get(scene.step_url).text
    tested, others = page.index("Tested by this step"), page.index('label="Others"')
    assert tested < page.index('value="cut-off-valve"') < others < page.index('value="vaporizer"')
    assert "Repaired or adjusted: test again as left" in page


def test_a_component_is_entered_corrected_and_withdrawn(post, scene):
    scene.complete(at=EARLY)
    answer = post("replacement_enter", scene.step().pk, VALVE)
    entry = Replacement.objects.get()
    assert (entry.fitted_serial, entry.removed_serial, entry.note) == ("CV-2", "CV-1", "Seat worn")
    if post.by_script:
        assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
        assert "serial CV-2, lot L-7" in answer.text and "2 steps to test again as left" in answer.text
    else:
        assert led_to(answer) == scene.step_url
    post("replacement_change", entry.pk, {"serial": "CV-3", "at": scene.step("alarm").pk})
    entry.refresh_from_db()
    assert (entry.fitted_serial, entry.note) == ("CV-3", "")
    post("replacement_withdraw", entry.pk)
    assert not Replacement.objects.in_force().exists()


@pytest.mark.parametrize("data", [{}, {"component": "absorber"}, {**VALVE, "serial": "x" * 61}])
def test_what_is_refused_keeps_what_was_typed(post, scene, data):
    answer = post("replacement_enter", scene.step().pk, {"lot": "typed before", **data})
    assert (answer.status_code, answer["Bench-Answer"]) == (422, "refused")
    assert data.get("lot", "typed before") in answer.text and not Replacement.objects.exists()


def test_a_refusal_of_the_action_is_said_with_what_was_typed(post, scene):
    record_replacement(scene.step(), "cut-off-valve", by=scene.technician, at=NOON)
    answer = post("replacement_enter", scene.step().pk, VALVE)
    assert answer.status_code == 422 and "already entered as replaced" in answer.text and "CV-2" in answer.text


def test_a_set_as_left_is_begun_and_taken_back(post, scene):
    scene.complete(at=EARLY)
    answer = post("as_left_begin", scene.step().pk, {"work_done": "Seat cleaned."})
    left = InspectionStep.objects.get(as_left_of=scene.step())
    assert led_to(answer) == left.get_absolute_url() and left.work_done == "Seat cleaned." and left.is_own_work
    answer = post("as_left_undo", left.pk)
    assert led_to(answer) == scene.step_url and not InspectionStep.objects.exclude(as_left_of=None).exists()


def test_it_needs_a_sentence_and_complete_readings(post, scene):
    step = scene.step()
    assert post("as_left_begin", step.pk, {"work_done": " "}).status_code == 422
    answer = post("as_left_begin", step.pk, {"work_done": "Cleaned"})
    assert answer.status_code == 422 and "complete these readings first" in answer.text


def test_what_is_proposed_is_no_further_work(post, bench, scene):
    scene.complete(at=EARLY)
    record_replacement(scene.step("flush"), "cut-off-valve", by=scene.technician, at=EARLY + timedelta(minutes=1))
    assert 'value="After this work: Cut-off valve replaced."' in bench.get(scene.step_url).text
    post("as_left_begin", scene.step().pk, {"work_done": "After this work: Cut-off valve replaced."})
    assert not InspectionStep.objects.get(as_left_of=scene.step()).is_own_work


def test_one_press_begins_every_set_that_is_called_for(post, scene):
    scene.complete(at=EARLY)
    record_replacement(scene.step(), "cut-off-valve", by=scene.technician, at=EARLY + timedelta(minutes=1))
    answer = post("as_left_all", scene.step().pk)
    begun = list(InspectionStep.objects.exclude(as_left_of=None))
    assert len(begun) == 2 and led_to(answer) == begun[0].get_absolute_url()


@pytest.mark.parametrize("name", ["as_left_begin", "as_left_undo", "as_left_all", "replacement_enter"])
def test_a_voided_inspection_is_told(post, scene, name):
    scene.complete(at=EARLY)
    step = scene.step()
    void_inspection(scene.inspection, reason="Twice", by=scene.technician, at=NOON, although_in_progress=True)
    answer = post(name, step.pk, {**VALVE, "work_done": "Cleaned"})
    assert led_to(answer) == scene.inspection.get_absolute_url()
    assert not InspectionStep.objects.exclude(as_left_of=None).exists() and not Replacement.objects.exists()


@pytest.mark.parametrize("name", ["as_left_begin", "as_left_undo", "as_left_all", "replacement_enter"])
def test_others_are_kept_out(client, scene, name):
    client.force_login(make_person("planner"))
    assert client.post(reverse(f"inspections:{name}", args=[scene.step().pk]), VALVE).status_code == 403
    client.force_login(scene.technician)
    assert client.get(reverse(f"inspections:{name}", args=[scene.step().pk])).status_code == 405
    other_site = make_scene_of_another_site(scene)
    client.force_login(other_site)
    assert client.post(reverse(f"inspections:{name}", args=[scene.step().pk]), VALVE).status_code == 404


def make_scene_of_another_site(scene):
    from tests.factories import make_site

    return make_person("technician", sites=[make_site()])


def test_pages_say_as_found_and_as_left(bench, scene):
    """The bench, the page to sign, the record, its PDF's source, the finding and the history of the machine."""
    scene.complete(FAILING, at=EARLY)
    left = begin_as_left(scene.step(), work_done="Seat cleaned.", by=scene.technician, at=EARLY)
    sweep(scene, left, PASSING, at=EARLY)
    found = bench.get(scene.step_url).text
    assert "These readings were taken before the repair" in found and left.get_absolute_url() in found
    assert "Seat cleaned." in bench.get(left.get_absolute_url()).text
    sign = bench.get(f"/inspections/{scene.inspection.pk}/sign/").text
    assert "Failed as found" in sign and "As left: pass" in sign and "An essential result failed" not in sign
    scene.sign(at=NOON)
    record = bench.get(scene.inspection.get_absolute_url()).text
    assert "nitrous oxide, as found" in record and "nitrous oxide, as left" in record
    assert "it passes as left" in record and "still in service" not in record
    finding = bench.get(Finding.objects.get().get_absolute_url()).text
    assert "Failed as found, passes as left" in finding and "is withdrawn from use now" not in finding
    assert "as found" in bench.get(f"/machines/{scene.machine.pk}/history/").text
    assert bench.get(f"/inspections/{scene.inspection.pk}/record.pdf").status_code == 200


def test_the_page_of_a_step_asks_the_same_number_of_questions_however_much_was_replaced(
    bench, scene, django_assert_max_num_queries
):
    scene.complete(at=EARLY)
    bench.get(scene.step_url)
    with django_assert_max_num_queries(60) as few:
        bench.get(scene.step_url)
    for code in ("cut-off-valve", "vaporizer", "outlet", "battery"):
        record_replacement(scene.step("flush"), code, by=scene.technician, at=EARLY)
    bench.get(scene.step_url)
    with django_assert_max_num_queries(60) as many:
        bench.get(scene.step_url)
    assert len(many) == len(few)
