"""Every row that a request with a token makes names the token, whichever operation made it."""

import pytest
from django.apps import apps
from django.db import models

from config.api.v1 import api
from fleet.models import ApiToken
from inspections.models import Finding, Reading

BODIES = {
    "/steps/{int:pk}/readings": lambda scene: (
        f"/steps/{scene.step().pk}/readings",
        {"field": "set_flow", "as_read": "4.0", "unit": "L/min", "instrument": scene.flowmeter.code},
    ),
    "/machines/{int:pk}/findings": lambda scene: (
        f"/machines/{scene.machine.pk}/findings",
        {"title": "Leaks", "severity": "other"},
    ),
}


def operations():
    """The path of every operation that changes something."""
    return sorted(
        path
        for _, router in api._routers
        for path, view in router.path_operations.items()
        if any(set(operation.methods) - {"GET"} for operation in view.operations)
    )


def rows():
    """Of every table, its keys."""
    found = [m for m in apps.get_models() if m._meta.app_label in ("fleet", "inspections")]
    return {model: set(model._base_manager.values_list("pk", flat=True)) for model in found}


def test_every_operation_that_changes_something_is_tried():
    assert operations() == sorted(BODIES)


@pytest.mark.parametrize("path", BODIES)
def test_what_an_operation_makes_names_the_token(call_as, scene, path):
    caller = call_as(owner=scene.technician)
    before = rows()
    assert caller.post(*BODIES[path](scene)).status_code == 201
    made = [row for model, keys in rows().items() for row in model._base_manager.filter(pk__in=keys - before[model])]
    assert made
    for row in made:
        assert isinstance(type(row)._meta.get_field("token"), models.ForeignKey)
        assert row.token == caller.token


def test_replacing_a_reading_with_a_token_leaves_an_entry_that_names_it(call_as, scene):
    standing = scene.enter("set_flow", "3.0", unit="L/min", instrument=scene.flowmeter)
    caller = call_as(owner=scene.technician)
    path, body = BODIES["/steps/{int:pk}/readings"](scene)
    assert caller.post(path, body).json()["reading"]["is_contested"]
    answer = caller.post(path, body | {"seen": standing.pk}).json()["reading"]
    assert not answer["is_contested"] and answer["program"] == caller.token.name
    from fleet.changes import changes_of

    [entry] = changes_of("inspection", scene.inspection.pk).filter(about__startswith="reading")
    assert entry.token == caller.token and "3.0 L/min" in str(entry.before) and "4.0 L/min" in str(entry.after)


def test_answers_name_the_program(call_as, scene):
    caller = call_as(owner=scene.technician)
    for path in BODIES:
        caller.post(*BODIES[path](scene))
    finding = caller.get(f"/findings/{Finding.objects.get().pk}").json()
    steps = caller.get(f"/inspections/{scene.inspection.pk}").json()["steps"]
    read = [reading["program"] for step in steps for reading in step["readings"]]
    assert [finding["program"], *read] == [caller.token.name] * 2
    assert Reading.objects.get().token == ApiToken.objects.get()
