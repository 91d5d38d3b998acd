"""A view gets its machine and its inspection in one way, so that none forgets the sites of a person or the format."""

import ast

from tests.test_rooms import modules

IN_ONE_PLACE = {"Machine": "fleet/views/machines", "Inspection": "inspections/views/at_site"}


def fetched(tree):
    """Return what the views of a module fetch with its place for the person who asks."""
    calls = [ast.unparse(node) for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return {
        name
        for name in IN_ONE_PLACE
        for call in calls
        if call.startswith(f"{name}.objects.visible_to(request.user).with_place(")
    }


def test_the_machine_and_the_inspection_of_a_page_are_fetched_in_one_place():
    found = {(each, name) for name, tree in modules().items() if "/views/" in name for each in fetched(tree)}
    assert found == set(IN_ONE_PLACE.items())
