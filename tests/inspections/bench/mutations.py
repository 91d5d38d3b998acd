"""Examples of readings with any node replaced by any JSON value, left out, doubled or nested."""

import json
from copy import deepcopy

from inspections.bench.examples import EXAMPLES

VALUES = (
    None, True, False, 0, 1, -1, 0.5, 1e308, -1e308, 5e-324, 1e-200, 10**400, 2**63, "",
    "psi", "kPa", "Ω", "yes/no", "x" * 400,
    "gauge", "\ud800", "nul\0", "1", [], {}, [[]], [{}], {"": {}}, {"value": 1, "unit": "psi"}, [1, 2],
    {"a": [1, {"b": None}]},    "supply-failure", "observation", "G-14", "\N{RIGHT-TO-LEFT OVERRIDE}",
    {"value": 1e308, "unit": "cmH2O"},
)  # fmt: skip
TEXTS = (
    "", "{", "[]", "null", "NaN", '{"test": NaN}', '{"test": "observation", "test": "observation"}', "[" * 100_000,
    '{"a":' * 50_000, "1" * 5000, '{"test": 1e999}', '"' + "x" * 5000 + '"', '{"context": {"built_year": 1e400}}',
    "\ufeff{}",    '{"values": {"x": -Infinity}}', "{}" * 3, '{"test": "\\ud800"}', "\x00", "true", "{'test': 1}",
)  # fmt: skip


def nodes(data, path=()):
    """Yield the path of every node below the root."""
    children = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, child in children:
        yield (*path, key)
        yield from nodes(child, (*path, key))


def mutated(random):
    """Return one example with one to four nodes changed."""
    data = json.loads(json.dumps(EXAMPLES[random.choice(sorted(EXAMPLES))]))
    for _ in range(random.randint(1, 4)):
        paths = list(nodes(data))
        if paths:
            _change(data, random.choice(paths), random)
    return data


def _change(data, path, random):
    *above, last = path
    for key in above:
        data = data[key]
    kind = random.random()
    if kind < 0.7:
        data[last] = deepcopy(random.choice(VALUES))
    elif kind < 0.8:
        del data[last]
    elif kind < 0.9 and isinstance(data, dict):
        data[random.choice(("unknown", "value", "unit", "lower", "limits", "scales"))] = data[last]
    else:
        data[last] = [deepcopy(data[last])] * random.choice((1, 2, 3, 40))
