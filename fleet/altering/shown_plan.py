"""A planned alteration as its page, its CSV file and its paper show it."""

from dataclasses import dataclass

from fleet.altering.estimates import Prices, components_needed, estimate
from fleet.catalogue import COMPONENT_KINDS, HAZARDS
from fleet.documents.phrases import lower_first
from fleet.drawing.before_after import Pair
from fleet.place_format import counted, money_text

MOST_CIRCUITS = 60  # different circuits on the page and on paper
CSV_HEADER = (
    "asset_number", "model", "site", "area", "state", "reason", "done_on", "evidence", "minutes", "cost", "currency",
    "hazards_closed", "hazards_opened", "refused", "estimated_minutes", "estimated_price", "estimated_currency",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class HazardLine:
    """One hazard over all machines whose cover is computed: causes that are not rare, and machines with one."""

    name: str
    causes_before: int
    causes_after: int
    machines_before: int
    machines_after: int


class ShownEffect:
    """What the alteration does to one circuit; `planned` machines have it, of `number` in the plan."""

    def __init__(self, effect):
        self.effect, self.planned, self.number = effect, effect.planned, effect.number

    @property
    def words(self):
        if self.effect.unknown:
            return f"Not computed: {self.effect.unknown}"
        if self.effect.refusal:
            return f"Not possible: {self.effect.refusal}"
        return ""

    @property
    def closed(self):
        return _by_hazard(self.effect.closed)

    @property
    def opened(self):
        return _by_hazard(self.effect.opened)

    @property
    def opened_rows(self):
        return [(HAZARDS[code].name, words) for code, words in self.effect.opened if code in HAZARDS]

    @property
    def components(self):
        return ", ".join(filter(None, [_kinds("fit", self.effect.fitted), _kinds("take off", self.effect.removed)]))


class ShownPlan:
    """Everything that is computed of a plan, for the machines that a person may see; six queries."""

    def __init__(self, plan, person, day):
        self.plan, self.rows = plan, plan.machines.visible_to(person)
        self.counts = self.rows.counts()
        self.prices = Prices(plan, day)
        self.estimate = estimate(plan, self.rows, self.prices)
        found = list(plan.effects.of_rows(self.rows)[:MOST_CIRCUITS])
        self.effects = [ShownEffect(effect) for effect in found]
        self.components = components_needed(found)
        self.costs = [money_text(total, currency) for currency, total in self.rows.costs()]

    @property
    def computed_at(self):
        return max((shown.effect.computed_at for shown in self.effects), default=None)

    @property
    def money(self):
        """The estimates in words, one for each currency."""
        return [money_text(total, currency) for currency, total in sorted(self.estimate.money.items())]

    @property
    def hours(self):
        return counted(round(self.estimate.minutes / 60))

    @property
    def hazards(self):
        """The HazardLine of every hazard that has an open cause before or after."""
        lines = [self._line(code) for code in HAZARDS]
        return [line for line in lines if line.causes_before or line.causes_after]

    def _line(self, code):
        sums = [0, 0, 0, 0]
        for shown in self.effects:
            if code in shown.effect.hazards:
                before, after = shown.effect.hazards[code][2:]
                for place, number in enumerate((before, after, before > 0, after > 0)):
                    sums[place] += number * shown.number
        return HazardLine(HAZARDS[code].name, *sums)

    @property
    def pairs(self):
        return [Pair(line.name, line.causes_before, line.causes_after) for line in self.hazards]

    @property
    def refused(self):
        return sum(shown.planned for shown in self.effects if shown.effect.refusal)

    def csv_row(self, row):
        """Return the CSV row of a machine, in the order of CSV_HEADER."""
        machine, effect = row.machine, row.effect
        price, currency, minutes = self.prices.of(machine.model_id, machine.area.site_id)
        return [
            machine.asset_number, str(machine.model), machine.area.site.name, machine.area.name, row.state, row.reason,
            row.done_on or "", row.evidence, _cell(row.minutes), _cell(row.cost), row.currency,
            _by_hazard(effect.closed) if effect else "", _by_hazard(effect.opened) if effect else "",
            effect.refusal if effect else "", _cell(minutes), _cell(price), currency,
        ]  # fmt: skip


def _cell(value):
    return "" if value is None else value


def _by_hazard(rows):
    """Rows of a cover table by hazard, such as “barotrauma 2, awareness 1”."""
    codes = [code for code, _ in rows]
    return ", ".join(f"{lower_first(HAZARDS[code].name)} {codes.count(code)}" for code in HAZARDS if code in codes)


def _kinds(verb, kinds):
    names = [
        f"{lower_first(COMPONENT_KINDS[kind].name)}{f' ({kinds.count(kind)})' if kinds.count(kind) > 1 else ''}"
        for kind in dict.fromkeys(kinds)
        if kind in COMPONENT_KINDS
    ]
    return f"{verb} {', '.join(names)}" if names else ""
