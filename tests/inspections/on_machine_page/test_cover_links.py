"""The cover report leads to the pictures of how it came about."""

from django.urls import reverse

from tests.factories import make_person


def test_the_cover_report_leads_to_the_pictures(client, db):
    client.force_login(make_person("manager"))
    page = client.get(reverse("fleet:cover")).content.decode()
    pictures = reverse("inspections:pictures")
    for anchor in ("features", "exposure"):
        assert f'href="{pictures}#{anchor}"' in page
        assert f'id="{anchor}"' in client.get(pictures).content.decode()
