"""Every operation against its own document: generated requests, valid and invalid, get no 500 and no undocumented
answer. The long run also tries every boundary of every parameter: `API_EXAMPLES=300 pytest <this file>`."""

import os

import pytest
import schemathesis
from django.core.cache import cache
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase
from hypothesis import settings as examples
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks

from config.wsgi import application
from inspections.actions import report_fault
from tests.factories import NOON, make_component, make_signed_inspection, make_token

EXAMPLES = int(os.environ.get("API_EXAMPLES", 0))
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
schema.config.phases.coverage.enabled = EXAMPLES > 0
schema.config.generation.with_security_parameters = False  # the token is set below, valid in every request
schema.config.checks.positive_data_acceptance.expected_statuses = ["200", "201", "304", "404", "409"]
known = {}  # the keys of existing records, by the path of the operation


@schema.hook
def map_path_parameters(context, path_parameters):
    """Name an existing record in half of the requests."""
    pk = (path_parameters or {}).get("pk")
    if isinstance(pk, int) and 0 < pk < 2**53 and pk % 2:
        path_parameters["pk"] = known.get(context.operation.path, pk)
    return path_parameters


@schema.hook
def map_body(context, body):
    """Name a reading of the step in half of the requests."""
    if context.operation.path.endswith("/readings") and isinstance(body, dict) and len(str(body)) % 2:
        body |= {"field": "set_flow", "column": None, "row": 0, "unit": "L/min"}
    return body


@pytest.fixture
def secret(scene):
    """A register with something in every list, and the secret of a token that may do all that a token can."""
    cache.clear()
    for signal in (request_started, request_finished):  # as Django's own test client does: the test owns the connection
        signal.disconnect(close_old_connections)
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
    yield make_token(scene.technician)[1]
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


def may_be_refused(case):
    """Return whether a rule that the document has in text only may apply: units; a state needs a feature."""
    asked = case.query or {}
    return case.path.endswith("/readings") or (bool({"state", "on"} & set(asked)) and "feature" not in asked)


@schema.parametrize()
@examples(
    max_examples=EXAMPLES or 12,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_no_request_gets_an_answer_that_the_document_does_not_name(case, secret, settings):
    settings.API_RATE = "1000000/min"
    wanted = CHECKS if may_be_refused(case) else [*CHECKS, checks.positive_data_acceptance]
    case.call_and_validate(headers={"Authorization": f"Bearer {secret}"}, checks=wanted)


def test_the_document_is_sound_by_the_rules_of_openapi():
    assert schema.validate() is None
    assert len(list(schema.get_all_operations())) >= 24
