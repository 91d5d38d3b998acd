import html
import re
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.actions import withdraw_machine
from inspections.actions import amend_inspection, countersign_inspection, void_inspection
from inspections.models import SignedRecord
from inspections.records.signed_record import ShownRecord
from tests.factories import CALIBRATED_UNTIL, NOON, make_inspection, make_person, make_site
from tests.inspections.scenes import FAILING, SHORT, make_scene

LATER = NOON + timedelta(hours=1)


@pytest.fixture
def auditor(db, client):
    client.force_login(make_person("auditor"))
    return client


def page_of(client, scene):
    return client.get(scene.inspection.get_absolute_url())


def words(page):
    """The text of a page without its tags, on one line."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text))


class TestSigned:
    def test_tells_who_when_with_what_against_which_limit_from_which_source(self, auditor, scene):
        scene.complete()
        record = scene.sign().record
        said = words(page_of(auditor, scene))
        assert "Short inspection , version 1" in said
        assert "94.1 kPa absolute standard atmosphere at the site" in said
        assert "45 psi gauge" in said
        assert "at least 20 psi and at most 30 psi" in said
        assert "Rule: Cut-off at 25 psi" in said
        assert "Probability of conformity" in said
        assert scene.gauge.code in said and f"31 Jan {CALIBRATED_UNTIL.year}" in said
        assert "Ana Ferro Signed 2 Nov 2026, 13:00" in said
        assert record.digest in said
        assert "No flowmeter of that range today." in said

    def test_lists_each_step_that_applies_with_its_decision_and_leads_to_it(self, auditor, scene):
        scene.complete()
        record = ShownRecord(scene.sign().record)
        page = page_of(auditor, scene).text
        [listed] = re.findall(r'<ol class="record-steps">(.*?)</ol>', page, flags=re.DOTALL)
        items = re.findall(r'<a href="#(step-\d+)">(.*?)</a>(.*?)</li>', listed, flags=re.DOTALL)
        told = [(html.unescape(title), " ".join(re.sub(r"<[^>]+>", " ", rest).split())) for _, title, rest in items]
        assert told == [(step.title, step.decision or "reported") for step in record.that_apply]
        assert {decision for _, decision in told} >= {"pass", "not tested"}
        assert all(page.count(f'id="{place}"') == 1 for place, _, _ in items)

    def test_keeps_probability_convention_and_coverage_factor_behind_a_tap(self, auditor, scene):
        scene.complete()
        scene.sign()
        page = page_of(auditor, scene).text
        open_part = re.sub(r"<details.*?</details>", "", page, flags=re.DOTALL)
        for words in ("robability of conformity", "k = ", "interpolated at the stated fraction"):
            assert words in page and words not in open_part

    def test_shows_observations_with_their_item(self, auditor, scene):
        scene.complete()
        scene.sign()
        assert "The alarm sounds. yes pass EN 740:1998 (from memory)" in words(page_of(auditor, scene))

    def test_shows_steps_that_did_not_apply_with_the_reason(self, auditor, scene):
        type(scene.step()).objects.filter(code="flush").update(applies=False, absence="No flush is recorded.")
        scene.sweep()
        scene.enter("seen", "yes", code="alarm")
        scene.sign()
        assert "No flush is recorded." in words(page_of(auditor, scene))

    def test_reads_from_the_frozen_content_whatever_becomes_of_the_register(self, auditor, scene):
        scene.complete()
        scene.sign()
        type(scene.machine).objects.update(serial="CHANGED")
        type(scene.gauge).objects.update(name="Renamed gauge")
        assert "Renamed gauge" not in page_of(auditor, scene).text
        assert "CHANGED" not in page_of(auditor, scene).text

    def test_that_was_tampered_with_says_so(self, auditor, scene):
        scene.complete()
        scene.sign()
        record = SignedRecord.objects.get()
        assert "This record is not as signed" not in page_of(auditor, scene).text
        SignedRecord.objects.update(content=record.content.replace('"as_read":"45"', '"as_read":"46"'))
        assert "This record is not as signed" in page_of(auditor, scene).text

    def test_shows_amendments_beside_the_original(self, auditor, scene):
        scene.complete()
        scene.sign()
        arguments = {"by": scene.technician, "at": LATER}
        amend_inspection(scene.inspection, correction="45 is 46", reason="Misread.", step=scene.step(), **arguments)
        amend_inspection(scene.inspection, correction="Room 3", reason="Wrong room.", **arguments)
        said = words(page_of(auditor, scene))
        assert "45 is 46 Reason: Misread." in said and "Room 3 Reason: Wrong room." in said
        assert "45 psi gauge" in said

    def test_proposes_withdrawal_with_the_reason_filled_in_until_it_is_done(self, client, scene):
        scene.complete(FAILING)
        scene.sign()
        client.force_login(scene.technician)
        link = reverse("fleet:machine_withdraw", args=[scene.machine.pk])
        page = page_of(client, scene)
        proposed = re.search(f'href="({link}[^"]*)"', page.text)[1]
        form = client.get(html.unescape(proposed))
        assert "Oxygen supply failure: nitrous oxide: trip pressure, fail</textarea>" in form.text
        assert f'value="{scene.inspection}"' in form.text
        withdraw_machine(scene.machine, by=scene.technician, at=LATER, reason="Failed.")
        assert link not in page_of(client, scene).text

    def test_offers_only_what_the_reader_may_do(self, client, auditor, scene):
        scene.complete(FAILING)
        scene.sign()
        for name in ("countersign", "amend"):
            assert reverse(f"inspections:{name}", args=[scene.inspection.pk]) not in page_of(auditor, scene).text
        client.force_login(scene.technician)
        assert reverse("inspections:countersign", args=[scene.inspection.pk]) not in page_of(client, scene).text
        client.force_login(scene.other)
        assert reverse("inspections:countersign", args=[scene.inspection.pk]) in page_of(client, scene).text

    def test_shows_both_signatures(self, auditor, scene):
        scene.complete()
        scene.sign()
        assert "Not countersigned yet" in page_of(auditor, scene).text
        countersign_inspection(scene.inspection, by=scene.other, at=LATER)
        assert "Rui Serra Countersigned" in words(page_of(auditor, scene))

    def test_costs_the_same_queries_with_few_and_with_many_readings(
        self, auditor, scene, tmp_path, django_assert_num_queries
    ):
        scene.complete()
        scene.sign()
        with django_assert_num_queries(RECORD_QUERIES):
            page_of(auditor, scene)
        many = make_scene(tmp_path, text=SHORT.replace("yearly", "longer"))
        many.complete([(str(45 - row), "4.0" if row < 18 else "0.0") for row in range(30)])
        many.sign()
        with django_assert_num_queries(RECORD_QUERIES):
            page_of(auditor, many)


RECORD_QUERIES = 20  # one of them for the results of the same readings by the rules of today, one for user checks


class TestOpen:
    def test_shows_due_window_and_offers_the_bench(self, client, scene):
        inspection = make_inspection(scene.machine, scene.procedure)
        client.force_login(scene.technician)
        page = client.get(inspection.get_absolute_url())
        assert "2 Nov 2026" in page.text and "16 Nov 2026" in page.text
        assert reverse("inspections:open", args=[inspection.pk]) in page.text
        assert "94.1 kPa absolute" in page.text

    def test_on_the_bench_shows_the_progress(self, client, scene):
        scene.sweep()
        client.force_login(scene.technician)
        said = words(page_of(client, scene))
        assert "1 of 3 steps done" in said
        assert "Oxygen supply alarm not started" in said

    def test_offers_the_bench_to_technicians_only(self, auditor, scene):
        assert reverse("inspections:bench", args=[scene.inspection.pk]) not in page_of(auditor, scene).text


class TestAnyStage:
    def test_void_shows_the_reason(self, auditor, scene):
        void_inspection(
            scene.inspection, reason="Wrong machine on the bench.", by=scene.other, at=LATER, although_in_progress=True
        )
        assert "Wrong machine on the bench." in page_of(auditor, scene).text

    def test_at_another_site_is_not_found(self, client, scene):
        client.force_login(make_person("auditor", sites=[make_site()]))
        assert page_of(client, scene).status_code == 404

    def test_needs_a_group_that_reads(self, client, scene):
        client.force_login(make_person())
        assert page_of(client, scene).status_code == 403

    def test_is_not_changed_by_post(self, auditor, scene):
        assert auditor.post(scene.inspection.get_absolute_url()).status_code == 405
