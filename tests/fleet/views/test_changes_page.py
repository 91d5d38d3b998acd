"""The page of the changes of one record."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.actions import change_site
from tests.factories import NOON, make_area, make_machine, make_person, make_site

LATER = NOON + timedelta(days=1)


@pytest.fixture
def by(db):
    return make_person("planner")


class TestPage:
    def url(self, kind, record):
        return reverse("fleet:changes", args=[kind, record.pk])

    def test_tells_the_change_and_who_made_it(self, client, by):
        site = make_site(name="North")
        change_site(site, name="South", by=by, at=LATER)
        client.force_login(by)
        page = client.get(self.url("site", site)).content.decode()
        assert "North" in page and "South" in page and str(by) in page and "3 Nov 2026" in page

    @pytest.mark.parametrize("kind", ["site", "machine"])
    def test_shows_times_in_the_zone_of_the_site_of_the_record(self, client, by, kind):
        site = make_site(time_zone="Africa/Nairobi")
        record = site if kind == "site" else make_machine(area=make_area(site=site))
        change_site(make_site(), name="Another", by=by, at=NOON)
        client.force_login(by)
        assert "Times on this page: Africa/Nairobi" in client.get(self.url(kind, record)).content.decode()

    def test_is_not_found_for_a_record_of_another_site(self, client, by):
        client.force_login(make_person("planner", sites=[make_site()]))
        assert client.get(self.url("machine", make_machine())).status_code == 404

    def test_of_an_unknown_kind_is_not_found(self, client, by):
        client.force_login(by)
        assert client.get("/changes/nothing/1/").status_code == 404

    def test_of_a_person_is_for_who_looks_after_people(self, client, by):
        client.force_login(by)
        assert client.get(self.url("person", by)).status_code == 403

    def test_costs_the_same_queries_with_few_and_with_many_entries(self, client, by, django_assert_num_queries):
        site = make_site()
        client.force_login(by)
        client.get(self.url("site", site))
        counts = []
        for number in range(24):
            change_site(site, name=f"Name {number}", by=by, at=LATER)
            if number in (2, 23):
                with django_assert_num_queries(9, exact=False) as captured:
                    client.get(self.url("site", site))
                counts.append(len(captured))
        assert counts[0] == counts[1]
