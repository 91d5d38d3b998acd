"""A table is computed anew when a law, an element, a cause or a catalogue changed, not for a comment or a drawing."""

import pytest

from fleet.circuits.covers.program_digest import counted_files, digest_of, rules

NOZZLE, FLOWS, HOSES = (
    "fleet/circuit/laws/nozzle.py",
    "fleet/circuit/elements/flows.py",
    "fleet/circuit/causes/hoses.py",
)
LIMITS, FEATURES = "fleet/circuit/hazard_limits.toml", "fleet/catalogue/features.toml"


def changed(path, old, new):
    content = counted_files()[path].decode()
    assert old in content
    return digest_of({**counted_files(), path: content.replace(old, new, 1).encode()})


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        (NOZZLE, "NARROW_PA = 10.0", "NARROW_PA = 10.0  # pascals"),
        (NOZZLE, "# Near zero pressure", "# Close to zero pressure"),
        (NOZZLE, '"""Flow through an orifice: isentropic', '"""The flow through an orifice: isentropic'),
        (NOZZLE, "\n\n\n@dataclass", "\n\n\n\n@dataclass"),
        (FLOWS, '    """A needle valve', '    """A valve with a needle'),
        (LIMITS, "\n[[limit]]", "\n# one more remark\n[[limit]]"),
    ],
)
def test_a_comment_a_docstring_or_the_layout_makes_no_difference(path, old, new):
    assert changed(path, old, new) == rules()


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        (NOZZLE, "NARROW_PA = 10.0", "NARROW_PA = 12.0"),
        (NOZZLE, "x * (3 - x) / 2", "x * (3 - x) / 3"),
        (FLOWS, 'practice(10 * LITRE_PER_MINUTE, "flow")', 'practice(12 * LITRE_PER_MINUTE, "flow")'),
        (HOSES, "return connection.size in", "return connection.size not in"),
        (LIMITS, "value = ", "value = 1"),
        (FEATURES, 'name = "', 'name = "Other '),
    ],
)
def test_a_law_an_element_a_cause_or_a_catalogue_makes_a_difference(path, old, new):
    assert changed(path, old, new) != rules()


def test_drawings_files_and_the_kit_do_not_count():
    paths = counted_files().keys()
    assert {NOZZLE, FLOWS, HOSES, LIMITS, FEATURES} <= paths
    assert not [path for path in paths if "/drawing/" in path or "/kit/" in path or "files" in path]


def test_it_is_64_hex_digits():
    assert len(rules()) == 64 and int(rules(), 16)
