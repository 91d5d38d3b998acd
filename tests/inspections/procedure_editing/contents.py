"""Contents of procedures, as a file says them, for Hypothesis: every key that a file may hold."""

from hypothesis import strategies as st

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES, Need
from inspections.bench import TESTS, UNITS

CODES = st.from_regex(r"\A[a-z][a-z0-9-]{0,20}\Z")
# fleet/characters.py refuses some of these; a curly bracket belongs to a passage (inspections/bench/passages.py).
LETTERS = st.characters(exclude_categories=("Cc", "Cf", "Cn", "Cs"), exclude_characters="{}")
SAID = st.builds(lambda first, rest: f"{first}{rest}", st.sampled_from("aZ9é"), st.text(LETTERS, max_size=40))
# What TOML itself must quote, cut or escape.
AWKWARD = st.sampled_from(
    ['"', "'''", '"""', "\\", "a = 1\n[b]", "# no comment", "\t", "end\n", "é ﷽ 😀", "𝟏", "[[step]]"]
)
PASSAGES = st.sampled_from(["{pipeline|With it off, open|Open} it.", "Shut it{pipeline yokes|, and vent it}."])
TEXTS = st.one_of(SAID, AWKWARD, PASSAGES, st.builds(lambda one, two: f"{one}{two}", AWKWARD, SAID))
NUMBERS = st.one_of(
    st.integers(1, 60), st.floats(0.5, 60, allow_nan=False).map(lambda one: float(f"{one:.6g}")), st.floats(0.5, 60)
)
BASES = st.sampled_from(["seen", "from memory", "common practice, no source", "local"])
MEASURED = {
    code: [spec for spec in test.results if spec.dimension in ("pressure", "flow")] for code, test in TESTS.items()
}


@st.composite
def limits(draw, test_code):
    spec = draw(st.sampled_from(MEASURED[test_code]))
    ends = sorted(draw(st.lists(NUMBERS, min_size=1, max_size=2)))
    names = ("lower", "upper") if len(ends) == 2 else (draw(st.sampled_from(["lower", "upper"])),)
    named = dict(zip(names, ends, strict=True))
    unit = draw(st.sampled_from(UNITS[spec.dimension]))
    table = {"key": spec.key, "rule": f"own-{draw(CODES)}"[:40], "title": draw(SAID), "unit": unit, **named}
    table |= {"source": draw(TEXTS), "basis": draw(BASES)}
    return table | {key: draw(TEXTS) for key in draw(st.sets(st.sampled_from(["edition", "note"])))}


@st.composite
def steps(draw, code):
    test = TESTS[draw(st.sampled_from(sorted(TESTS)))]
    step = {"code": code, "title": draw(SAID), "test": test.code}
    optional = {
        "essential": st.booleans(),
        "purpose": TEXTS,
        "feature": st.sampled_from(sorted(FEATURES)),
        "or_feature": st.sampled_from(sorted(FEATURES)),
        "needs": st.lists(st.sampled_from([str(need) for need in Need]), unique=True, max_size=3),
        "component": st.sampled_from(sorted(COMPONENT_KINDS)),
        "gas": st.sampled_from(sorted(GASES)),
        "each": st.just("other gas"),
        "repeat_after": st.lists(st.sampled_from(sorted(COMPONENT_KINDS)), unique=True, max_size=3),
        "instruction": TEXTS,
        "item": TEXTS,
        "caution": TEXTS,
        "source": TEXTS,
        "conditional": st.sampled_from(["finding", "remark"]),
    }
    step |= {key: draw(optional[key]) for key in draw(st.sets(st.sampled_from(sorted(optional))))}
    if test.choices and draw(st.booleans()):
        spec = draw(st.sampled_from(test.choices))
        step["choices"] = {spec.key: draw(st.sampled_from([value for value, _ in spec.options]))}
    return step


@st.composite
def contents(draw):
    """A content without limits of its own: those that are plausible depend on the test."""
    codes = draw(st.lists(CODES, min_size=1, max_size=5, unique=True))
    content = {"code": draw(CODES), "title": draw(SAID), "step": [draw(steps(code)) for code in codes]}
    optional = {
        "purpose": TEXTS,
        "interval_months": st.integers(1, 120),
        "window_days": st.integers(0, 365),
        "cautions": st.lists(TEXTS, max_size=3),
    }
    return content | {key: draw(optional[key]) for key in draw(st.sets(st.sampled_from(sorted(optional))))}
