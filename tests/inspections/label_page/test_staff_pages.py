"""What belongs to a label behind the login: printing, tags, checks, and a new code."""

from datetime import timedelta
from hashlib import sha256
from io import BytesIO

import pytest
import zxingcpp
from django.template.loader import render_to_string
from django.urls import reverse
from pypdf import PdfReader
from pypdfium2 import PdfDocument

from fleet.actions import withdraw_machine
from fleet.models import Site
from inspections.actions import issue_label, record_user_check
from inspections.chain.verification import verify_store
from inspections.models import FaultPhotograph, MachineLabel
from inspections.on_machine_page.user_check_facts import first_use_after
from tests.factories import NOON, make_person, make_signed_inspection, make_site
from tests.inspections.label_page.conftest import label_of_new_machine
from tests.inspections.label_page.rows import PICTURE, make_label_rows
from tests.inspections.label_page.sending import text_of


@pytest.fixture
def technician(client, label):
    person = make_person("technician", last_name="Withdrawer")
    client.force_login(person)
    return person


def code_on(content):
    [code] = zxingcpp.read_barcodes(PdfDocument(content)[0].render(scale=203 / 72).to_pil())
    return code.text


def address(name, label):
    return reverse(f"inspections:{name}", args=[label.machine_id])


def recorded(label, number=0, **fields):
    fields = {"kind": "daily", "by_name": f"Person {number}", "check_list": "our list", "result": "done"} | fields
    return record_user_check(
        label, key=sha256(f"{number} {fields}".encode()).hexdigest(), at=NOON + timedelta(hours=2 * number), **fields
    )


def test_a_printed_label_opens_the_public_page_and_stays_the_same(client, technician, label, settings):
    settings.BASE_URL = "https://bobbin.example.org"
    for _ in range(2):
        content = client.get(address("label_pdf", label)).content
        assert code_on(content) == f"https://bobbin.example.org/m/{label.code}/"


def test_the_first_label_that_is_printed_gives_a_machine_its_code(client, technician, label):
    MachineLabel.objects.all().delete()
    first = code_on(client.get(address("label_pdf", label)).content)
    new = MachineLabel.objects.get()
    assert first.endswith(f"/m/{new.code}/") and new.issued_by == technician


def test_where_the_page_is_switched_off_a_label_opens_the_page_of_the_machine(client, technician, label):
    Site.objects.update(has_label_page=False)
    assert code_on(client.get(address("label_pdf", label)).content).endswith(label.machine.get_absolute_url())


@pytest.mark.parametrize(("query", "size"), [("", (105, 148)), ("?size=a6", (105, 148)), ("?size=label", (62, 100))])
def test_a_withdrawn_machine_gets_a_tag_that_says_why_who_and_when(client, technician, label, query, size):
    withdraw_machine(label.machine, by=technician, at=NOON, reason="Oxygen trips too late")
    content = client.get(address("tag_pdf", label) + query).content
    reader = PdfReader(BytesIO(content))
    box = reader.pages[0].mediabox
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size, abs=0.1)
    said = " ".join(reader.pages[0].extract_text().split())
    for words in ("DO NOT USE", label.machine.asset_number, "Oxygen trips too late", "Withdrawer", "2 Nov 2026",
                  "ext. 4417", "For qualified personnel."):  # fmt: skip
        assert words in said
    assert len(reader.pages) == 1 and code_on(content).endswith(f"/m/{label.code}/")


def test_a_tag_is_offered_for_a_withdrawn_machine_alone(client, technician, label):
    assert address("tag_pdf", label) not in text_of(client.get(label.machine.get_absolute_url()))
    answer = client.get(address("tag_pdf", label))
    assert answer.status_code == 409 and "is in service" in text_of(answer)
    client.post(reverse("fleet:machine_withdraw", args=[label.machine_id]), {"reason": "Worn"})
    assert address("tag_pdf", label) in text_of(client.get(label.machine.get_absolute_url()))
    assert client.get(address("tag_pdf", label) + "?size=a3").status_code == 400


@pytest.mark.parametrize("group", ["technician", "planner"])
def test_the_code_of_a_lost_label_is_replaced_with_a_reason(client, label, group):
    person = make_person(group)
    client.force_login(person)
    replace = address("label_replace", label)
    assert "State why" in text_of(client.post(replace, {"reason": " "}))
    assert MachineLabel.objects.count() == 1
    assert client.post(replace, {"reason": "Label lost"})["Location"] == address("user_checks", label)
    label.refresh_from_db()
    assert (label.replaced_by, label.replaced_reason) == (person, "Label lost")
    assert issue_label(label.machine, by=None, at=NOON).code != label.code


def test_only_planners_and_technicians_replace_a_code(client, label):
    for person, status in (("auditor", 403), ("manager", 403)):
        client.force_login(make_person(person))
        assert client.post(address("label_replace", label), {"reason": "Lost"}).status_code == status
    client.force_login(make_person("planner", sites=[make_site()]))
    for name in ("label_replace", "user_checks", "tag_pdf"):
        assert client.get(address(name, label)).status_code == 404
    assert MachineLabel.objects.get().is_in_force


def test_checks_are_listed_page_by_page_in_a_fixed_number_of_queries(
    client, technician, label, django_assert_max_num_queries
):
    for number in range(60):
        recorded(label, number)
    client.get(address("user_checks", label))
    with django_assert_max_num_queries(16):
        first = client.get(address("user_checks", label))
    assert "Person 59" in text_of(first) and "Person 34" not in text_of(first)
    assert "Person 34" in text_of(client.get(address("user_checks", label) + "?page=2"))


def facts(client, label):
    return {fact.label: fact for fact in client.get(label.machine.get_absolute_url()).context["facts"]}


def test_the_page_of_a_machine_says_who_recorded_the_last_checks(client, technician, label):
    make_signed_inspection(label.machine, by=technician, at=NOON)
    assert facts(client, label)["First-user check"].words == "not recorded"
    assert facts(client, label)["Daily check"].words == "none recorded"
    recorded(label, 1, by_name="Earlier")
    recorded(label, 2, by_name="Later")
    recorded(label, 3, kind="first-user", by_name="First")
    found = facts(client, label)
    assert (found["Daily check"].note, found["First-user check"].note) == ("Later", "First")


def test_where_labels_open_no_page_and_nothing_was_recorded_nothing_is_said_of_checks(client, technician, label):
    Site.objects.update(has_label_page=False)
    assert not {"Daily check", "First-user check"} & facts(client, label).keys()


def test_the_record_shows_the_first_user_check_that_followed_it(client, technician, label):
    first = make_signed_inspection(label.machine, by=technician, at=NOON)
    assert "Not recorded yet" in shown_after(client, first)
    recorded(label, 1, kind="first-user", by_name="Ana Ruiz", check_list="Form 12")
    assert "Ana Ruiz, by Form 12: done, no problem found" in shown_after(client, first)
    second = make_signed_inspection(label.machine, by=technician, at=NOON + timedelta(days=1))
    assert "Ana Ruiz" in shown_after(client, first)
    assert "Not recorded yet" in shown_after(client, second)


def shown_after(client, inspection):
    return render_to_string("inspections/_first_use.html", {"first_use": first_use_after(inspection)})


def test_verification_finds_a_photograph_that_was_exchanged(site):
    _, report, _ = make_label_rows(label_of_new_machine(site).machine, None, "Seen")
    assert list(verify_store()) == []
    FaultPhotograph.objects.update(content=PICTURE + b"!")
    [trouble] = verify_store()
    assert (trouble.kind, trouble.site, trouble.what) == ("altered", site.code, f"photograph of {report}")
    assert [len(list(verify_store(sites=sites))) for sites in ([site], [make_site()])] == [1, 0]
