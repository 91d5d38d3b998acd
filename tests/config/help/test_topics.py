"""Help has a page for each job, and the pages where a job is done lead to it."""

import pytest
from django.urls import reverse

from config.help.topics import TOPICS, topic_of
from tests.factories import make_person
from tests.matrix.addresses import all_addresses


@pytest.fixture
def reader(client, db):
    client.force_login(make_person("technician"))
    return client


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.slug)
def test_each_topic_has_a_page_with_its_caution(reader, topic):
    page = reader.get(reverse("help_topic", args=[topic.slug])).content.decode()
    assert topic.title in page and "<ol>" in page
    caution = page.split("<b>Caution.</b>")[1].split("</div>")[0]
    assert len(caution.split()) > 10


def test_the_index_leads_to_every_topic(reader):
    page = reader.get(reverse("help")).content.decode()
    assert all(reverse("help_topic", args=[topic.slug]) in page for topic in TOPICS)


def test_every_page_that_a_topic_names_is_an_address_and_leads_to_one_topic():
    names = {address.name for address in all_addresses()}
    pages = [page for topic in TOPICS for page in topic.pages]
    assert set(pages) <= names
    assert len(pages) == len(set(pages))


def test_a_page_opens_the_help_on_its_own_job(reader):
    assert f'href="{reverse("help_topic", args=["book-the-month"])}"' in reader.get("/inspections/").content.decode()
    assert f'class="help-link" href="{reverse("help")}"' in reader.get("/").content.decode()


def test_a_topic_that_does_not_exist_is_not_found(reader):
    assert reader.get("/help/no-such-job/").status_code == 404
    assert topic_of("no-such-page") is None
