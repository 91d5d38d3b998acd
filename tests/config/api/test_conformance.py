"""Every operation against its own document: generated requests, sound and unsound, find no 500 and no undocumented
answer. `python -m tests.config.api.long_conformance` does the same with many more."""

import pytest
import schemathesis
from django.core.cache import cache
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks

from config.wsgi import application
from inspections.actions import report_fault
from tests.config.api.conftest import make_token
from tests.factories import NOON, make_component, make_signed_inspection

EXAMPLES = 12
CHECKS = [
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
    checks.negative_data_rejection,
    checks.unsupported_method,
    checks.ignored_auth,
]
schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", application)
known = {}  # the keys of records that are there, by the path of the operation


@schema.hook
def map_path_parameters(context, path_parameters):
    """Half of the time ask for a record that is there."""
    if path_parameters and isinstance(path_parameters.get("pk"), int) and path_parameters["pk"] % 2:
        path_parameters["pk"] = known.get(context.operation.path, path_parameters["pk"])
    return path_parameters


@pytest.fixture
def secret(scene):
    """A register with something in every list, and the secret of a token that may do all that a token can."""
    cache.clear()
    scene.sweep()
    make_component(scene.machine, gas="oxygen", rated={"set_output": [45, "psi"]})
    signed = make_signed_inspection(scene.machine, scene.procedure, by=scene.technician)
    finding = report_fault(scene.machine, title="Leaks", severity="other", by=scene.technician, at=NOON)
    keys = {
        "models": scene.machine.model_id,
        "machines": scene.machine.pk,
        "instruments": scene.gauge.pk,
        "inspections": scene.inspection.pk if scene.inspection.pk % 2 else signed.pk,
        "steps": scene.step().pk,
        "findings": finding.pk,
    }
    known.clear()
    known.update({path: keys[path.split("/")[3]] for path in schema.raw_schema["paths"] if "{pk}" in path})
    return make_token("technician", owner=scene.technician)[1]


@schema.parametrize()
@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
def test_no_request_gets_an_answer_that_the_document_does_not_name(case, secret, settings):
    settings.API_RATE = "1000000/min"
    case.call_and_validate(headers={"Authorization": f"Bearer {secret}"}, checks=CHECKS)


def test_the_document_is_sound_by_the_rules_of_openapi():
    assert schema.validate() is None
    assert len(list(schema.get_all_operations())) >= 24
