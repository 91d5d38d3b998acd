"""The ranked list of the retirement review."""

import django_tables2 as tables

from fleet.tables.cells import abbreviations, link, with_note
from fleet.web.key_addresses import key_address
from inspections.models.querysets.kept_rows import REVIEW_ORDER
from inspections.tables.cells import mark, place

NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}


class ReviewTable(tables.Table):
    """Rows are RankedMachine objects, in the order of their place."""

    place = tables.Column("Rank", accessor="place__place", attrs=NUMBER)
    machine = tables.Column(accessor="machine", order_by="machine__asset_number")
    where = tables.Column("Site and area", accessor="machine", orderable=False)
    conclusion = tables.Column("Conclusion", accessor="review__conclusion", orderable=False)
    absolute = tables.Column("Absolute", accessor="review__absolute_met", orderable=False)
    relative = tables.Column("Relative", accessor="review__relative_met", orderable=False)
    open = tables.Column("Not known", accessor="review__open_questions", orderable=False)
    exposure = tables.Column("Hazard weight", accessor="place__exposure", attrs=NUMBER)
    burden = tables.Column("Burden", accessor="place__burden", attrs=NUMBER)
    decided = tables.Column("Below the one before by", accessor="place__decided_by", orderable=False, default="—")

    class Meta:
        attrs = {"class": "review-table"}
        empty_text = "No machine meets these conditions. Remove a condition, or enter machines in the register."

    def render_machine(self, value, record):
        return with_note(link(key_address("inspections:review_machine", value.pk), value.asset_number), value.model)

    def render_where(self, value):
        return place(value)

    def render_conclusion(self, record):
        word = mark(record.review.conclusion.capitalize())
        if record.review.is_provisional:
            return with_note(word, "provisional")
        return word

    def render_absolute(self, value):
        return codes(value, "alarm")

    def render_relative(self, value):
        return codes(value, "")

    def render_open(self, value):
        return codes(value, "quiet")

    def render_exposure(self, value):
        return f"{value:.0f}"

    def value_exposure(self, value):  # files for other programs keep the point and all digits
        return value

    def value_burden(self, value):
        return value

    def render_burden(self, value):
        return f"{value:.1f}"


class KeptReviewTable(ReviewTable):
    """The same of kept reviews, which the database sorts; rows are KeptPlace objects."""

    class Meta(ReviewTable.Meta):
        order_by = ()

    def order_place(self, rows, is_descending):
        return (rows.order_by(*REVIEW_ORDER).reverse() if is_descending else rows.order_by(*REVIEW_ORDER)), True

    def order_machine(self, rows, is_descending):
        return rows.order_by("-asset_number" if is_descending else "asset_number"), True

    def order_exposure(self, rows, is_descending):
        return rows.order_by("-exposure" if is_descending else "exposure", *REVIEW_ORDER), True

    def order_burden(self, rows, is_descending):
        return rows.order_by("-burden" if is_descending else "burden", *REVIEW_ORDER), True


def codes(answers, look):
    """The codes of criteria, each with its statement when pointed at."""
    if not answers:
        return "—"
    return abbreviations([(answer.criterion.code, answer.criterion.says) for answer in answers], look)
