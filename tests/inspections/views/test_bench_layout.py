"""What a bench page shows of a step: the fields of the chosen method, and the caution until it is known."""

import re

import pytest

from fleet.models import Machine
from inspections.actions import begin_as_left
from tests.factories import NOON, make_model
from tests.inspections.scenes import FAILING, SHORT, make_scene


@pytest.fixture
def bench(scene, client):
    """The client of the technician at the bench."""
    client.force_login(scene.technician)
    return client


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


class TestFieldsOfTheMethod:
    def hidden(self, bench, scene, code="flush"):
        page = bench.get(scene.step(code).get_absolute_url()).text
        return re.findall(r'id="place-(\w+)"[^>]* hidden', page)

    def test_that_is_chosen_are_shown_and_those_of_another_are_not(self, bench, scene):
        assert self.hidden(bench, scene) == ["volume", "time"]
        scene.enter("method", "timed", code="flush")
        assert self.hidden(bench, scene) == ["flow"]

    def test_that_have_a_reading_are_always_shown(self, bench, scene):
        scene.enter("volume", "5", unit="L", code="flush")
        assert self.hidden(bench, scene) == ["time"]

    def test_are_called_optional_only_if_no_result_waits_for_them(self, bench, scene):
        page = bench.get(scene.step("flush").get_absolute_url()).text
        form = page[page.index('id="step-form"') : page.index("</form>", page.index('id="step-form"'))]
        assert "(optional)" not in form


MANY = """
code = "yearly"
title = "Tubes"
[[step]]
code = "tube"
title = "Tube"
test = "flowmeter"
[[step]]
code = "flush"
title = "Flush"
test = "oxygen-flush"
"""


class TestChoices:
    @pytest.fixture
    def page_of(self, client, db, tmp_path):
        scene = make_scene(tmp_path, text=MANY, at=NOON)
        client.force_login(scene.technician)
        return scene, lambda code: client.get(scene.step(code).get_absolute_url()).text

    def test_of_which_there_are_many_are_folded_into_a_line_that_says_what_is_chosen(self, page_of):
        _, page = page_of
        assert '<details class="recorded">' in page("tube")
        assert "Gas of the tube: <b>oxygen</b>" in page("tube")
        assert '<details class="recorded"' not in page("flush")

    def test_that_were_changed_are_open(self, page_of):
        scene, page = page_of
        scene.enter("tube_gas", "air", code="tube")
        assert '<details class="recorded" open>' in page("tube")


class TestCaution:
    def is_open(self, client, scene):
        page = client.get(scene.step_url).text
        assert "<b>Caution</b>" in page and "Never on a machine connected to a patient" in page
        return '<details class="caution-line" open>' in page

    def test_is_open_until_the_person_has_done_the_step_on_a_machine_of_the_model(self, bench, scene):
        assert self.is_open(bench, scene)
        scene.enter("full_pressure", "50", unit="psi")
        assert not self.is_open(bench, scene)
        bench.force_login(scene.other)
        assert self.is_open(bench, scene)

    def test_is_folded_on_the_set_as_left_of_a_step_that_the_person_has_just_done(self, bench, scene):
        scene.complete(FAILING)
        left = begin_as_left(scene.step(), by=scene.technician, at=NOON, work_done="Spring renewed.")
        page = bench.get(left.get_absolute_url()).text
        assert '<details class="caution-line">' in page

    def test_is_open_again_on_a_machine_of_another_model(self, bench, scene, tmp_path):
        scene.enter("full_pressure", "50", unit="psi")
        text = SHORT.replace('"yearly"', '"other"')
        same = make_scene(tmp_path, text=text, model=scene.machine.model)
        assert not self.is_open(bench, same)
        Machine.objects.filter(pk=same.machine.pk).update(model=make_model())
        assert self.is_open(bench, same)
