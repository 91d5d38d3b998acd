"""Every function that reports its progress reports to nobody by the same default."""

import ast

from tests.test_rooms import modules


def defaults_of_tell(function):
    positional = function.args.posonlyargs + function.args.args
    given = list(zip(reversed(positional), reversed(function.args.defaults), strict=False))
    given += zip(function.args.kwonlyargs, function.args.kw_defaults, strict=True)
    return [ast.unparse(default) for parameter, default in given if parameter.arg == "tell" and default is not None]


def test_whoever_reports_to_nobody_does_so_in_one_way():
    found = [
        (name, default)
        for name, tree in modules().items()
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        for default in defaults_of_tell(function)
    ]
    assert found and [where for where in found if where[1] != "tell_nobody"] == []
