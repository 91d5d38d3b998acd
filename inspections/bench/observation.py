"""A yes or no seen at the bench; the procedure's step says what to check."""

from .challenges import NoChallenge
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .judging import judged_result
from .limits import LOCAL
from .measuring import Bench
from .quantities import Dimension
from .readings import Sheet
from .results import Evaluation
from .specs import NEVER_ON_A_PATIENT, limit, observation

WANTED = {
    "yes": limit("seen", "must-be-yes", "Required", (1, None), "yes/no", "the procedure's step", "-", LOCAL),
    "no": limit("seen", "must-be-no", "Not allowed", (None, 0), "yes/no", "the procedure's step", "-", LOCAL),
}


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return pass or fail for what was seen; an observation has no uncertainty."""
    bench = Bench(TEST, sheet, context)
    seen, wanted = bench.value("seen"), WANTED[bench.choice("wanted")]
    own = context.limits.get("seen")
    if own is not None and (own.lower_si, own.upper_si) == (wanted.lower_si, wanted.upper_si):
        wanted = own  # the choice says which way passes; a local limit may only lend its source
    results = () if seen is None else (judged_result(TEST.results[0], seen.estimate, wanted),)
    return bench.finish(results)


TEST = Test(
    code="observation",
    family="observation",
    title="Observation",
    purpose="Check whether the statement given in the procedure step is true for this machine.",
    cautions=(NEVER_ON_A_PATIENT,),
    readings=(observation("seen", "Confirmed?", judges=("seen",)),),
    tables=(),
    choices=(ChoiceSpec("wanted", "Passes when", (("yes", "confirmed"), ("no", "not confirmed")), "yes"),),
    rated=(),
    results=(
        ResultSpec("seen", "Observation", Dimension.OBSERVATION, "yes/no", "as observed; no uncertainty stated",
                    NoChallenge("the item of the step says what is done; who answers says that it was done")),
    ),
    default_limits=tuple(WANTED.values()),
    source="the procedure's step",
    evaluate=evaluate,
)  # fmt: skip
