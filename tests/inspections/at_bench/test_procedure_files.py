import pytest

from inspections.at_bench.procedure_files import DIRECTORY, read_procedure, read_procedures
from inspections.errors import ProcedureError

STEP = 'code = "p"\ntitle = "P"\n[[step]]\ncode = "s"\ntitle = "S"\ntest = "supply-failure"\n'
LIMIT = """[[step.limit]]
key = "trip_pressure"
rule = "ours"
title = "Ours"
unit = "psi"
source = "s"
basis = "local"
"""
NOT_TESTED = '[[not_tested_here]]\nfeatures = ["pin-index"]\nreason = "Not here."\n'
SHARED = '[[step]]\ncode = "cut"\ntitle = "Cut"\ntest = "supply-failure"\nessential = true\n'
USING = 'code = "p"\ntitle = "P"\n[[step]]\nuse = "cut"\nessential = false\n'


def read(text):
    return read_procedure(text, name="p.toml")


def test_the_shipped_procedures_read_and_are_those_of_a_department():
    codes = {content["code"] for content in read_procedures(DIRECTORY)}
    assert codes == {"yearly", "half-yearly", "return-to-service", "acceptance", "weekly", "daily", "exposure"}


def test_a_step_carries_its_limits_so_that_a_version_stands_alone():
    [step] = read(STEP)["step"]
    assert {limit["key"] for limit in step["limits"]} >= {"trip_pressure"}
    assert all(limit["source"] and limit["basis"] for limit in step["limits"])


def test_a_limit_of_the_file_comes_in_si():
    """1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)."""
    [step] = read(STEP + LIMIT + "lower = 20\n")["step"]
    own = step["limits"][0]
    assert (own["rule"], own["lower_si"], own["upper_si"]) == ("ours", pytest.approx(20 * 6894.757, rel=1e-6), None)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("code = ", "p.toml is not TOML"),
        ('code = "p"\ntitle = "P"\n', "step is missing"),
        (STEP + "colour = 3\n", r"p.toml, step 1 \(s\): unknown key colour. Accepted: .*instruction"),
        (STEP.replace("supply-failure", "magic"), "magic"),
        (STEP + '[[step]]\ncode = "s"\ntitle = "S"\ntest = "observation"\n', r"step 2 \(s\): the code is used twice"),
        (STEP + 'feature = "wings"\n', "feature = “wings” is not in the catalogue. Accepted: "),
        (STEP + 'gas = "helium-3"\n', "gas = “helium-3” is not in the catalogue"),
        (STEP + 'component = "wing"\n', "component = “wing” is not in the catalogue"),
        (STEP + 'each = "gas"\n', "each = “gas” is not known. Accepted: “other gas”"),
        (STEP + 'rated = "basal_flow"\n', "rated = “basal_flow” is not in the catalogue. Accepted: none without"),
        (STEP + 'component = "gauge"\nrated = "basal_flow"\n', "Accepted: full_scale"),
        (STEP + 'finds = ["gauge: sad"]\n', "finds = “gauge: sad” is no known failure. Accepted: .*gauge: stuck"),
        (STEP + 'finds = ["stuck"]\n', "is no known failure. Accepted: those of fleet/circuit/incidents.toml"),
        (STEP + 'from_record = {colour = "gas"}\n', "from_record = “colour” is not in the catalogue. Accepted: kind"),
        (STEP + 'rules = {trip_pressure = "magic"}\n', "magic"),
        (STEP + LIMIT, "give a lower limit, an upper limit or both"),
        (STEP + LIMIT + 'lower = 20\nunit2 = "psi"\n', "unknown key unit2"),
        (
            STEP + LIMIT.replace('"psi"', '"L/min"') + "lower = 20\n",
            "trip_pressure is not measured in “L/min”. Accepted: psi, kPa",
        ),
        (STEP + LIMIT.replace("trip_pressure", "trip") + "lower = 20\n", "no result “trip”"),
        (STEP + 'choices = {kind = "magic"}\n', "kind.*magic.*shut-off"),
        (STEP + 'choices = {sort = "magic"}\n', "no choice “sort”"),
        (STEP + 'or_feature = "wings"\n', "or_feature = “wings” is not in the catalogue"),
        (STEP + 'needs = ["wings"]\n', "needs = “wings” is not in the catalogue. Accepted: .*pipeline, yokes"),
        (STEP + 'repeat_after = ["gauge", "wing"]\n', "repeat_after = “wing” is not in the catalogue"),
        (STEP + '[[step]]\nuse = "cut"\n', "use = “cut” is not a shared step. Accepted: none, there is no steps.toml"),
        (STEP + NOT_TESTED.replace("pin-index", "wings"), "features = “wings” is not in the catalogue"),
        (STEP + NOT_TESTED.replace("Not here.", " "), "say in a sentence why pin-index is not tested"),
        (STEP + NOT_TESTED.replace("reason", "why"), "unknown key why"),
        (STEP + 'feature = "pin-index"\n' + NOT_TESTED, "pin-index is tested by a step. Remove it here"),
        (STEP + 'or_feature = "pin-index"\n' + NOT_TESTED, "pin-index is tested by a step. Remove it here"),
    ],
)
def test_a_file_that_cannot_be_is_refused_with_its_place_and_what_is_accepted(text, told):
    with pytest.raises(ProcedureError, match=told):
        read(text)


def test_a_folder_without_procedures_is_refused(tmp_path):
    with pytest.raises(ProcedureError, match="no procedure file"):
        read_procedures(tmp_path)


def shared_in(folder, shared, text=USING):
    (folder / "steps.toml").write_text(shared, encoding="utf-8")
    (folder / "p.toml").write_text(text, encoding="utf-8")
    return read_procedures(folder)


def test_a_step_is_taken_from_the_shared_ones_and_keeps_what_is_written_beside_it(tmp_path):
    [content] = shared_in(tmp_path, SHARED)
    [step] = content["step"]
    assert (step["code"], step["title"], step["test"], step["essential"]) == ("cut", "Cut", "supply-failure", False)
    assert "use" not in step and step["limits"]


def test_two_procedures_that_share_a_step_have_it_alike(tmp_path):
    (tmp_path / "q.toml").write_text(USING.replace('"p"', '"q"').replace("essential = false\n", ""), encoding="utf-8")
    first, second = shared_in(tmp_path, SHARED, USING.replace("essential = false\n", ""))
    assert first["step"] == second["step"] and first["step"][0]["essential"]


@pytest.mark.parametrize(
    ("shared", "text", "told"),
    [
        (SHARED, USING.replace("cut", "wing"), "p.toml: use = “wing” is not a shared step. Accepted: cut"),
        (SHARED, USING + '[[step]]\nuse = "cut"\n', "step 2 .cut.: the code is used twice"),
        (SHARED + SHARED, USING, "steps.toml, step 2 .cut.: the code is used twice"),
        (SHARED + "colour = 3\n", USING, "steps.toml, step 1 .cut.: unknown key colour"),
        (SHARED + "colour = ", USING, "steps.toml is not TOML"),
        ('title = "x"\n' + SHARED, USING, "steps.toml: unknown key title"),
    ],
)
def test_shared_steps_that_cannot_be_are_refused(tmp_path, shared, text, told):
    with pytest.raises(ProcedureError, match=told):
        shared_in(tmp_path, shared, text)


@pytest.mark.parametrize("item", ["Open {it.", "{ladder|Climb|Stay}.", "{pipeline}"])
def test_a_passage_that_cannot_be_read_is_refused_with_where_and_what_is_accepted(item):
    text = f'code = "p"\ntitle = "P"\n[[step]]\ncode = "one"\ntitle = "One"\ntest = "observation"\nitem = "{item}"\n'
    with pytest.raises(ProcedureError, match=r"step 1 \(one\): item: .*Accepted: "):
        read_procedure(text, name="own.toml")
