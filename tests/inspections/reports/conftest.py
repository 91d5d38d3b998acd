"""Text of papers, read back from their pages."""

from io import BytesIO

import pytest
from pypdf import PdfReader

from tests.factories import make_person, make_site


@pytest.fixture
def words_of():
    """A function that returns the words of every page of a PDF, spaces made single."""

    def read(content):
        return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]

    return read


@pytest.fixture
def other_site_person(db):
    return make_person("technician", sites=[make_site()])
