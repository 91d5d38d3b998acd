"""The page of a procedure shows what its steps are for, and what it does not test."""

import pytest

from fleet.catalogue import FEATURES
from inspections.at_bench.procedure_files import read_procedures
from inspections.models import Procedure
from tests.factories import load_all_procedures, make_person


@pytest.mark.parametrize("content", read_procedures(), ids=lambda content: content["code"])
def test_the_page_shows_every_step_and_what_is_not_tested_with_the_reason(client, db, content):
    load_all_procedures()
    client.force_login(make_person("auditor"))
    page = client.get(Procedure.objects.get(code=content["code"]).get_absolute_url()).content.decode()
    for step in content["step"]:
        assert step["purpose"] in page.replace("&#x27;", "'")
        assert step["caution"] in page.replace("&#x27;", "'")
    for entry in content["not_tested_here"]:
        assert ", ".join(FEATURES[code].name for code in entry["features"]) in page
        assert entry["reason"] in page.replace("&#x27;", "'")
