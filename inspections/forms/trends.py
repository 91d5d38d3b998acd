"""Narrowing the watch list of trends."""

import django_filters

from fleet.forms.filters import ListFilter, area_filter, site_filter, text_filter
from inspections.models import TrendForecast

EVERY = "every"


class TrendFilter(ListFilter):
    q = text_filter("Machine or result")
    site = site_filter("machine__area__site")
    area = area_filter("machine__area")
    show = django_filters.ChoiceFilter(
        label="Show",
        choices=[
            (TrendForecast.AdviceWord.COME_EARLIER, "Come earlier"),
            (TrendForecast.AdviceWord.MEASURE_BETTER, "Measure better"),
            (EVERY, "Every trend towards a limit"),
        ],
        empty_label="All to watch",
        method="of_the_list",
    )
