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


def read(text):
    return read_procedure(text, name="p.toml")


def test_the_shipped_procedures_read_and_are_the_three_of_the_department():
    codes = {content["code"] for content in read_procedures(DIRECTORY)}
    assert codes == {"yearly", "half-yearly", "return-to-service"}


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
    ],
)
def test_a_file_that_cannot_be_is_refused_with_its_place_and_what_is_accepted(text, told):
    with pytest.raises(ProcedureError, match=told):
        read(text)


def test_a_folder_without_procedures_is_refused(tmp_path):
    with pytest.raises(ProcedureError, match="no procedure file"):
        read_procedures(tmp_path)
