"""The description of the API is what a programmer reads: it bears the caution as every page and paper does."""

from config.api.v1 import DESCRIPTION


def test_the_description_defers_to_manufacturer_local_codes_and_licensed_practice(client):
    words = "The manufacturer's instructions, local codes and licensed practice come first."
    document = client.get("/api/v1/openapi.json").json()
    assert words in DESCRIPTION and words in document["info"]["description"]
    assert "For qualified personnel." in document["info"]["description"]
