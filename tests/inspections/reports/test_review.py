"""The retirement review on its pages and on paper."""

import pytest

from fleet.models import Machine
from inspections.models import CriterionJudgement
from inspections.reports.review import write_review
from inspections.retirement.gathering import rank_machines
from inspections.review import Conclusion
from tests.decisions import send
from tests.factories import TODAY, make_area, make_machine, make_model, make_person, make_site

URL = "/retirement/"


@pytest.fixture
def north(db):
    return make_area(make_site(name="North"), name="Theatre 1")


@pytest.fixture
def obsolete(north):
    model = make_model(
        name="Three", features={"o2-supply-alarm": "not fitted", "flush-guard": "not fitted", "pin-index": "fitted"}
    )
    return make_machine(asset_number="A-1", model=model, area=north, built_year=1980)


@pytest.fixture
def kept(db):
    return make_machine(asset_number="B-1", features={"o2-supply-alarm": "fitted"})


@pytest.fixture
def manager(db):
    return make_person("manager", first_name="Hester", last_name="Brandt")


def get(client, person, path=URL, **query):
    client.force_login(person)
    return client.get(path, query)


def listed(response):
    return [row.record.machine.asset_number for row in response.context["table"].rows]


def test_the_list_is_ranked_and_says_conclusion_and_criteria(client, manager, kept, obsolete):
    response = get(client, manager)
    assert listed(response) == ["A-1", "B-1"]
    page = response.content.decode()
    assert "Obsolete" in page and ">A3</abbr>" in page and ">R3</abbr>" in page
    assert "Age alone is no reason to retire a machine" in page and "the responsible clinician judges the risk" in page


def test_a_retired_machine_is_not_reviewed(client, manager, obsolete):
    Machine.objects.filter(pk=obsolete.pk).update(status="retired")
    assert listed(get(client, manager)) == []


@pytest.mark.parametrize("word, expected", [("obsolete", ["A-1"]), ("keep", ["B-1"]), ("consider replacement", [])])
def test_the_list_is_filtered_by_conclusion(client, manager, kept, obsolete, word, expected):
    assert listed(get(client, manager, conclusion=word)) == expected


def test_the_list_is_filtered_by_place_and_model(client, manager, kept, obsolete):
    for name, value in (("site", obsolete.site), ("area", obsolete.area), ("model", obsolete.model)):
        assert listed(get(client, manager, **{name: value.pk})) == ["A-1"]


@pytest.mark.parametrize("query", [{"site": "x"}, {"conclusion": "scrap"}, {"page": "77"}, {"sort": "odd"}])
def test_a_query_that_cannot_be_is_refused(client, manager, kept, query):
    assert get(client, manager, **query).status_code == 400


def test_a_person_of_one_site_reviews_only_its_machines(client, kept, obsolete):
    person = make_person("manager", sites=[kept.site])
    assert listed(get(client, person)) == ["B-1"]
    assert get(client, person, f"{URL}{obsolete.pk}/").status_code == 404
    assert get(client, person, f"{URL}{obsolete.pk}/R8/").status_code == 404


def test_the_page_of_a_machine_says_every_criterion_with_its_reason(client, manager, obsolete):
    page = get(client, manager, f"{URL}{obsolete.pk}/").content.decode()
    for code in [f"A{n}" for n in range(1, 12)] + [f"R{n}" for n in range(1, 12)]:
        assert f'<td class="fix">{code}</td>' in page
    assert "Oxygen supply-pressure alarm: not fitted (since 1 Jan 2015, model default)." in page
    assert "Fit: Oxygen supply-pressure alarm" in page
    assert "Built in 1980: 46 years." in page


def test_lists_ask_the_same_number_of_queries_for_thirty_machines_as_for_three(
    client, manager, kept, django_assert_max_num_queries, django_assert_num_queries
):
    client.force_login(manager)
    client.get(URL)
    with django_assert_max_num_queries(25) as few:
        client.get(URL)
    for _ in range(30):
        make_machine(model=kept.model, area=kept.area)
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(URL)


def test_a_manager_judges_a_criterion_with_a_reason(client, manager, obsolete):
    client.force_login(manager)
    response = send(client, f"{URL}{obsolete.pk}/R8/", {"answer": "met", "reason": "Knobs unlike all others here"})
    assert response.status_code == 302
    judgement = CriterionJudgement.objects.get()
    assert (judgement.criterion, judgement.answer, judgement.by) == ("R8", "met", manager)
    page = client.get(response.url).content.decode()
    assert "Judged by Hester Brandt" in page and "Knobs unlike all others here" in page


@pytest.mark.parametrize("data", [{}, {"answer": "met", "reason": "  "}, {"answer": "perhaps", "reason": "Why"}])
def test_a_judgement_without_answer_or_reason_is_refused_and_nothing_kept(client, manager, obsolete, data):
    client.force_login(manager)
    response = send(client, f"{URL}{obsolete.pk}/R8/", data)
    assert response.status_code == 422 and response.context["form"].errors
    assert not CriterionJudgement.objects.exists()


def test_a_criterion_that_the_records_answer_is_not_judged_by_hand(client, manager, obsolete):
    client.force_login(manager)
    response = client.post(f"{URL}{obsolete.pk}/A3/", {"answer": "not met", "reason": "I say so"}, follow=True)
    assert "answered from the records" in response.content.decode()
    assert not CriterionJudgement.objects.exists()
    assert client.get(f"{URL}{obsolete.pk}/Z9/").status_code == 404


@pytest.mark.parametrize("group", ["auditor", "technician", "planner"])
def test_only_managers_judge(client, obsolete, group):
    person = make_person(group)
    assert get(client, person).status_code == 200
    assert get(client, person, f"{URL}{obsolete.pk}/R8/").status_code == 403
    assert client.post(f"{URL}{obsolete.pk}/R8/", {"answer": "met", "reason": "x"}).status_code == 403


def test_nobody_without_a_group_reads_the_review(client, obsolete):
    person = make_person()
    for path in (URL, f"{URL}{obsolete.pk}/", f"{URL}review.pdf"):
        assert get(client, person, path).status_code == 403


def paper(**options):
    ranked = rank_machines(Machine.objects.not_retired(), TODAY)
    return write_review(ranked, on=TODAY, asked=[], made="Made for Hester Brandt", **options)


def test_the_paper_ranks_tells_reasons_names_sources_and_cautions(kept, obsolete, words_of):
    pages = words_of(paper())
    words = " ".join(pages)
    for expected in (
        "2 machines reviewed",
        "1. A-1 Test works Three",
        "Oxygen supply-pressure alarm: not fitted (since 1 Jan 2015, model default).",
        "A3: fit oxygen supply-pressure alarm",
        "ASA guidelines for determining anesthesia machine obsolescence, 2004",
        "Age alone is no reason to retire a machine",
        "The responsible clinician judges the risk",
        f"Page {len(pages)} of {len(pages)}",
    ):
        assert expected in words
    assert "2. B-1" not in words  # to keep: in the ranked list only
    assert str(Conclusion.KEEP) in words


def test_the_paper_tells_no_more_machines_one_by_one_than_asked(obsolete, words_of):
    make_machine(asset_number="A-2", model=obsolete.model, area=obsolete.area)
    words = " ".join(words_of(paper(top=1)))
    assert "1. A-1" in words and "1. A-2" not in words
    assert "1 more such machines are listed" in words


def test_the_paper_of_no_machine_says_so(db, words_of):
    assert "No machine meets these conditions." in " ".join(words_of(paper()))


def test_the_page_sends_the_paper_of_its_filter(client, manager, kept, obsolete, words_of):
    response = get(client, manager, f"{URL}review.pdf", site=kept.site.pk, top="3")
    words = " ".join(words_of(response.content))
    assert response["Content-Type"] == "application/pdf"
    assert kept.site.name in words and "A-1" not in words
