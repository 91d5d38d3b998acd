"""A stored choice for the fleet in words and figures, for its page, its paper and its workbook alike."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from fleet.catalogue import FEATURES
from fleet.catalogue.currencies import from_smallest_units
from fleet.documents.phrases import lower_first
from fleet.place_format import counted, money_text
from inspections.planning.fleet_choice import Kind, Plan, plan_from_dict
from inspections.retirement.fleet_problem import POINTS, YEARS, Asked

UNIT = "hazard weight years"
WHAT_IT_SAYS = (
    "Exposure is the sum, over all machines and the three years, of the severity weights of the hazards that a machine "
    f"leaves open: its unit is the {UNIT[:-1]}. The weights are local policy.",
    "It does not say how often a hazard happens or how many patients are exposed. Hazards whose causes are rare, "
    "criteria that are not known, and the burden of upkeep are not in it.",
    "What is done in a year counts for the whole of that year. A new machine is taken to leave none of the counted "
    "hazards open. Prices are those of today. Own hours are limited by their number and are not in the money.",
    "A machine is touched once within the three years. An area gives away at most as many machines at a time as it has "
    "above its minimum.",
)
VERBS = {Kind.ALTER: "altered", Kind.REPLACE: "replaced", Kind.RETIRE: "retired"}


@dataclass(frozen=True, slots=True)
class ChosenMachine:
    """One machine of a plan: `money` as a whole number of the smallest unit, `closes` in hazard weight years."""

    machine: str
    rank: int
    model: str
    where: str
    conclusion: str
    year: int
    kind: Kind
    what: str
    money: int
    minutes: int
    closes: float
    amount: str


@dataclass(frozen=True, slots=True)
class Group:
    """What is done in one year to machines of one model."""

    year: int
    what: str
    model: str
    machines: int
    amount: str
    closes: str


@dataclass(frozen=True, slots=True)
class FrontierRow:
    """One yearly sum: what it leaves open. `left` and `bound` in hazard weight years."""

    yearly: int
    amount: str
    left: float
    bound: float
    left_words: str
    part: int
    done: str
    is_asked: bool

    @property
    def is_proved(self):
        return self.left <= self.bound


class ShownChoice:
    """Everything that is shown of a FleetChoice."""

    def __init__(self, choice):
        self.choice, self.result = choice, choice.result
        self.asked = Asked(**choice.asked)
        self.plan = plan_from_dict(self.result["plan"])

    def money(self, units):
        return money_text(from_smallest_units(units, self.choice.currency), self.choice.currency)

    @property
    def where(self):
        return str(self.choice.site) if self.choice.site else f"all sites that reckon in {self.choice.currency}"

    @property
    def yearly(self):
        return self.money(self.result["frontier"][QUARTER_OF_ASKED]["yearly"])

    @property
    def answer(self):
        """The answer as one sentence."""
        share, machines = part_of(self.plan.closed, self.plan.exposure), counted(self.result["machines"])
        return (
            f"With {self.yearly} a year for {YEARS} years, of {machines} machines {done_words(self.plan)}: this closes "
            f"{share} % of the exposure, for {self.money(self.plan.cost)} in all."
        )

    @property
    def proof(self):
        return proof_words(self.plan)

    @property
    def figures(self):
        """(figure, words) of the plan."""
        kinds = Counter(choice.option.kind for choice in self.plan.choices)
        return [
            (f"{part_of(self.plan.closed, self.plan.exposure)} %", "of the exposure closed"),
            (points_text(self.plan.left), f"{UNIT} left of {points_text(self.plan.exposure)}"),
            *(
                (counted(kinds[kind]), f"machines {VERBS[kind]}")
                for kind in Kind
                if kinds[kind] or kind is not Kind.RETIRE
            ),
            (self.money(self.plan.cost), "in all"),
        ]

    @property
    def greedy_words(self):
        """What the simple rule would do with the same money."""
        closed = part_of(self.result["greedy"]["closed"], self.plan.exposure)
        return (
            f"Taking what closes the most for its money, one after the other, would close {closed} % for "
            f"{self.money(self.result['greedy']['cost'])}."
        )

    @cached_property
    def years(self):
        """(year from 1, money, machines) of each year."""
        machines = Counter(choice.year for choice in self.plan.choices)
        return [(n + 1, self.money(cost), machines[n]) for n, cost in enumerate(self.plan.costs)]

    @cached_property
    def machines(self):
        """The machines of the plan, by year and rank."""
        return self._chosen(self.plan)

    def _chosen(self, plan):
        found = [self._machine(each) for each in plan.choices]
        return sorted(found, key=lambda each: (each.year, each.rank, each.machine))

    def _machine(self, each):
        rank, model, where, conclusion = self.result["about"].get(each.machine, [0, "", "", ""])
        closes = each.option.closes * (YEARS - each.year) / POINTS
        return ChosenMachine(
            each.machine, rank, model, where, conclusion, each.year + 1, each.option.kind, what_words(each.option),
            each.option.cost, each.option.minutes, closes, self.money(each.option.cost),
        )  # fmt: skip

    @property
    def groups(self):
        """The plan by year, what is done and model, the most machines of a year first."""
        held = defaultdict(list)
        for each in self.machines:
            held[each.year, each.what, each.model].append(each)
        rows = [self._group(*key, of) for key, of in held.items()]
        return sorted(rows, key=lambda row: (row.year, -row.machines, row.what, row.model))

    def _group(self, year, what, model, of):
        money, closes = sum(each.money for each in of), sum(each.closes for each in of)
        return Group(year, what, model, len(of), self.money(money), counted(round(closes)))

    @cached_property
    def frontier(self):
        return [self._point(point) for point in self.result["frontier"]]

    def _point(self, point):
        share = Fraction(point["share"])
        words = [f"{number} {VERBS[Kind(kind)]}" for kind, number in point["kinds"].items()]
        return FrontierRow(
            point["yearly"], self.money(point["yearly"]), point["left"] / POINTS, point["bound"] / POINTS,
            points_text(point["left"]), part_of(point["left"], self.plan.exposure), ", ".join(words) or "nothing",
            share == 1,
        )  # fmt: skip

    @property
    def what_if(self):
        """The what-if in sentences; empty if none was asked for."""
        found = self.result["what_if"]
        if found is None:
            return []
        asked = f"Asked: {self.what_if_asked}."
        if "refused" in found:
            frees = " or ".join(found["refused"])
            why = f"Without the limit of {frees} there would be one." if frees else "No single limit prevents it."
            return [asked, f"No plan meets this. {why}"]
        plan = plan_from_dict(found)
        change = round(plan.left / POINTS) - round(self.plan.left / POINTS)
        compared = f"{counted(abs(change))} {UNIT} {'more' if change > 0 else 'less'} than the plan above"
        return [
            asked,
            f"Then {done_words(plan, len(found['retire']))}, for {self.money(plan.cost)}; {points_text(plan.left)} "
            f"{UNIT} are left, {compared if change else 'as many as in the plan above'}. {proof_words(plan)}",
        ]

    @property
    def what_if_asked(self):
        asked = self.asked
        words = [
            f"replace exactly {asked.replace}" if asked.replace is not None else "",
            f"alter exactly {asked.alter}" if asked.alter is not None else "",
            f"retire {', '.join(asked.retire)}" if asked.retire else "",
            f"{asked.fewer} of {asked.technicians} technicians fewer" if asked.fewer else "",
        ]
        return "; ".join(filter(None, words))

    @property
    def limits(self):
        """(label, value) of what was asked for."""
        asked = self.asked
        return [
            ("Money a year", self.yearly),
            ("Left money", "carried over to the next year" if asked.carries_over else "lapses at the end of the year"),
            ("Machines a year", "no limit" if asked.machines is None else f"at most {counted(asked.machines)}"),
            ("Hours a year", "no limit" if asked.hours is None else f"{counted(asked.hours)} h of technicians"),
            ("Retiring without a new machine", "where the minimum of the area allows" if asked.may_retire else "no"),
            ("Machines", self.where),
        ]


QUARTER_OF_ASKED = 4  # the place of the asked sum in the frontier


def points_text(points):
    """Points as hazard weight years, to the whole one: the weights say no more."""
    return counted(round(points / POINTS))


def part_of(points, whole):
    """A part in whole per cent."""
    return round(100 * points / whole) if whole else 0


def what_words(option):
    """What is done to a machine, such as “Fit oxygen analyser; take off measured-flow vaporizer”."""
    if option.kind is not Kind.ALTER:
        return {Kind.REPLACE: "Replace", Kind.RETIRE: "Retire"}[option.kind]
    known = [FEATURES[code] for code in option.does if code in FEATURES]
    words = [f"{'take off' if each.is_unwanted else 'fit'} {lower_first(each.name)}" for each in known]
    text = "; ".join(words)
    return text[:1].upper() + text[1:]


def done_words(plan: Plan, retired=0):
    """What a plan does, such as “12 machines are altered and 5 are replaced”; of one machine “1 is”."""
    kinds = Counter(choice.option.kind for choice in plan.choices)
    kinds[Kind.RETIRE] += retired
    words = [
        f"{counted(kinds[kind])} {'is' if kinds[kind] == 1 else 'are'} {VERBS[kind]}" for kind in Kind if kinds[kind]
    ]
    return " and ".join(words) if words else "nothing is done to any machine"


def proof_words(plan: Plan):
    if plan.is_proved:
        return "No other plan within these limits closes more: the bound that the solver found equals this plan."
    more = 100 * (plan.bound - plan.closed) / max(1, plan.closed)
    return f"The time ended before the bound was reached: another plan could close at most {more:.2g} % more."
