import pytest
from django.urls import reverse

from inspections.models import Inspection
from tests.factories import NOON, make_inspection, make_person, make_site
from tests.inspections.scenes import FAILING


@pytest.fixture
def bench(scene, client):
    """The client of the technician at the bench."""
    client.force_login(scene.technician)
    return client


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


class TestOpening:
    def test_asks_for_the_conditions_and_goes_to_the_bench(self, bench, scene):
        inspection = make_inspection(scene.machine, scene.procedure)
        url = reverse("inspections:open", args=[inspection.pk])
        assert "94.1 kPa absolute" in bench.get(url).text
        answer = bench.post(url, {"ambient_kpa_abs": "93.8", "temperature_c": "22.5"})
        assert answer.url == reverse("inspections:bench", args=[inspection.pk])
        inspection.refresh_from_db()
        assert (inspection.ambient_kpa_abs, inspection.temperature_c, inspection.stage) == (93.8, 22.5, "on bench")
        assert bench.get(answer.url).url == inspection.steps.first().get_absolute_url()

    @pytest.mark.parametrize(
        "data", [{"ambient_kpa_abs": "1013", "temperature_c": "20"}, {"temperature_c": ""}, {"temperature_c": "nan"}]
    )
    def test_refuses_conditions_that_cannot_be(self, bench, scene, data):
        inspection = make_inspection(scene.machine, scene.procedure)
        assert bench.post(reverse("inspections:open", args=[inspection.pk]), data).status_code == 422
        assert Inspection.objects.get(pk=inspection.pk).stage == "planned"

    def test_of_one_that_is_on_the_bench_already_says_so(self, bench, scene):
        page = bench.post(reverse("inspections:open", args=[scene.inspection.pk]), {"temperature_c": "20"})
        assert page.status_code == 422
        assert "is in progress" in page.text

    def test_shows_the_stage_as_in_progress_on_its_page_and_among_its_changes(self, bench, scene):
        inspection = make_inspection(scene.machine, scene.procedure)
        bench.post(reverse("inspections:open", args=[inspection.pk]), {"temperature_c": "22.5"})
        for address in (inspection.get_absolute_url(), reverse("fleet:changes", args=["inspection", inspection.pk])):
            text = bench.get(address).text
            assert "in progress" in text.lower() and "on bench" not in text.lower()

    def test_is_for_technicians_of_the_site(self, client, scene):
        inspection = make_inspection(scene.machine, scene.procedure)
        url = reverse("inspections:open", args=[inspection.pk])
        client.force_login(make_person("planner"))
        assert client.post(url, {"temperature_c": "20"}).status_code == 403
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.post(url, {"temperature_c": "20"}).status_code == 404

    def test_bench_leads_to_the_first_step_that_needs_work(self, bench, scene):
        scene.sweep()
        answer = bench.get(reverse("inspections:bench", args=[scene.inspection.pk]))
        assert answer.url == scene.step("alarm").get_absolute_url()


class TestNotTested:
    def test_keeps_the_reason_and_goes_on(self, bench, scene):
        answer = bench.post(scene.url("not_tested"), {"reason": "No gas today.", "then": "next"})
        assert answer.url == scene.step("alarm").get_absolute_url()
        assert "No gas today." in bench.get(scene.step_url).text

    def test_without_a_reason_is_refused(self, bench, scene):
        page = bench.post(scene.url("not_tested"), {"reason": " "}, follow=True)
        assert "State why this step is not tested" in page.text
        assert scene.step().not_tested_reason == ""

    def test_is_taken_back(self, bench, scene):
        scene.leave_untested("supply-failure", "No gas today.")
        bench.post(scene.url("not_tested"), {"undo": "yes"})
        assert scene.step().not_tested_reason == ""

    def test_after_signing_is_refused(self, bench, scene):
        scene.complete(FAILING)
        scene.sign()
        page = bench.post(scene.url("not_tested"), {"reason": "Never mind."}, follow=True)
        assert "its readings are locked" in page.text
        assert scene.step().not_tested_reason == ""

    def test_is_not_done_by_get_nor_by_others(self, bench, scene):
        assert bench.get(scene.url("not_tested")).status_code == 405
        bench.force_login(make_person("auditor"))
        assert bench.post(scene.url("not_tested"), {"reason": "x"}).status_code == 403
