"""Run inside the mutated tree: answers each line of JSON from a fork that imports the tree anew, with one mutant in it.

What the tree needs of other packages is imported once, before the forks. A question names a mutant (or none) and
either tests, answered by the exit code of pytest, or modules, answered by what they hold once imported.
"""

import contextlib
import gc
import importlib
import json
import os
import re
import select
import signal
import sys
import types

OF_THE_TREE = {"config", "conftest", "fleet", "inspections", "manage", "tests"}


def answered(question: dict):
    """Return what a fork says to the question; None where it fails or takes longer than its seconds."""
    reader, writer = os.pipe()
    pid = os.fork()
    if not pid:
        _answer(question, writer)
    os.close(writer)
    said = b""
    while select.select([reader], [], [], question["seconds"])[0] and (piece := os.read(reader, 1 << 16)):
        said += piece
    os.close(reader)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return json.loads(said) if said.endswith(b"\n") else None


def _answer(question: dict, writer: int):
    with contextlib.suppress(BaseException):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        os.environ["MUTANT_UNDER_TEST"] = question["mutant"]
        said = _declared(question["modules"]) if "modules" in question else _tested(question["tests"])
        os.write(writer, json.dumps(said).encode() + b"\n")
    os._exit(0)


def _tested(tests: list[str]) -> int:
    import pytest  # noqa: PLC0415 - only a fork knows the mutant

    return int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", *tests]))


def _declared(modules: list[str]) -> int:
    for first in ("inspections.bench", "fleet.circuit.elements", "fleet.circuit.causes"):
        importlib.import_module(first)
    return hash("\n".join(line for name in modules for line in _held(name, importlib.import_module(name))))


def _held(name: str, holder):
    """Yield a line for each thing that a module or a class holds, but functions."""
    for key, value in sorted(vars(holder).items()):
        if key.startswith("__") or "mutmut" in key or isinstance(value, types.ModuleType | types.FunctionType):
            continue
        if isinstance(value, type):
            yield from _held(f"{name}.{key}", value) if value.__module__ == name else ()
        else:
            yield f"{name} {key} " + re.sub(" at 0x[0-9a-f]+", "", repr(value))


def _import_what_others_made(tests: list[str]):
    """Import in this process what a run of these tests imports, but nothing of the tree."""
    reader, writer = os.pipe()
    if not os.fork():
        with contextlib.suppress(BaseException):
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            _tested(["--collect-only", *tests])
            with os.fdopen(writer, "w") as file:
                file.write("\n".join(sys.modules))
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader) as file:
        names = file.read().split()
    os.wait()
    before = dict(os.environ)
    for name in names:
        if name.partition(".")[0] not in OF_THE_TREE and not name.startswith("__"):
            with contextlib.suppress(BaseException):  # what wants Django's settings first is left to the forks
                importlib.import_module(name)
    os.environ.clear()
    os.environ.update(before)
    gc.freeze()


if __name__ == "__main__":
    sys.path.insert(0, os.getcwd())
    _import_what_others_made(sys.argv[1:])
    for line in sys.stdin:
        print(json.dumps(answered(json.loads(line))), flush=True)
