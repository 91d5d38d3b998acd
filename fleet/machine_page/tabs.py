"""The pages of one machine, as tabs: the overview first, the history last."""

from fleet.extensions import MachinePage, further_machine_pages

OVERVIEW = MachinePage("Overview", "fleet:machine")
OWN_PAGES = (
    OVERVIEW,
    MachinePage("Safety features", "fleet:machine_features"),
    MachinePage("Components", "fleet:machine_components"),
    MachinePage("Gas circuit", "fleet:machine_circuit"),
    MachinePage("Cover", "fleet:machine_cover"),
    MachinePage("Software and users", "fleet:software_and_users"),
)
HISTORY = MachinePage("History", "fleet:machine_history")


def machine_pages():
    return [*OWN_PAGES, *further_machine_pages(), HISTORY]
