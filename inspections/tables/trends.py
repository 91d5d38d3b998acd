"""The watch list: which results drift to their limit, the likeliest to be outside first."""

import django_tables2 as tables

from fleet.tables.cells import figure, link, strong, with_note
from fleet.web.key_addresses import key_address
from inspections.machine_trends.shown_forecast import ShownForecast
from inspections.models import TrendForecast
from inspections.tables.cells import day, machine_link

NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}


class TrendTable(tables.Table):
    chance = tables.Column("Chance outside", order_by=("-chance", "beyond_on", "pk"), attrs=NUMBER)
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    result = tables.Column("Result", accessor="latest", order_by=("test_code", "subject", "key", "pk"))
    advice = tables.Column("What helps", order_by=("advice", "-chance", "pk"))
    expected = tables.Column("Expected when due", empty_values=(), orderable=False)
    due_on = tables.Column("Next due", order_by=("due_on", "pk"))
    proves = tables.Column("Safety feature", empty_values=(), orderable=False)

    class Meta:
        model = TrendForecast
        fields = ()
        sequence = ("chance", "machine", "result", "advice", "expected", "due_on", "proves")
        order_by = ("chance",)

    def render_chance(self, record):
        return strong(ShownForecast(record).chance)

    def value_chance(self, value):
        return value

    def render_machine(self, value):
        return with_note(machine_link(value), f"{value.area.name}, {value.area.site.name}")

    def value_machine(self, value):
        return f"{value}, {value.model}, {value.area.name}, {value.area.site.name}"

    def render_result(self, record, value):
        name = link(key_address("inspections:machine_results", record.machine_id), value.label)
        shown = value.shown
        latest = f"{shown.value} {shown.result.unit}" if shown.has_uncertainty else shown.value
        return with_note(name, f"{value.step}: {latest}, {shown.limit}")

    def value_result(self, value):
        return f"{value.step}: {value.label}"

    def render_advice(self, record):
        return strong(ShownForecast(record).advice or "—")

    def value_advice(self, record):
        return record.get_advice_display()

    def render_expected(self, record):
        shown = ShownForecast(record)
        return with_note(figure(shown.expected), f"{shown.drift}; width from {shown.shares}")

    def value_expected(self, record):
        return record.value

    def render_due_on(self, record, value):
        return with_note(figure(day(value)), ShownForecast(record).since)

    def value_due_on(self, value):
        return value.isoformat()

    def render_proves(self, record):
        features = ShownForecast(record).features
        if not features:
            return "—"
        hazards = dict.fromkeys(hazard.lower() for _, found in features for hazard in found)
        return with_note("; ".join(name for name, _ in features), f"against {'; '.join(hazards)}")

    def value_proves(self, record):
        return "; ".join(name for name, _ in ShownForecast(record).features)
