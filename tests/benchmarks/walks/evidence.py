"""An auditor: the whole life of five machines that were named, as one archive."""

from tests.benchmarks.walks.hand import hand_of, page_of

MOST_CLICKS, MOST_SECONDS = 10, 300  # the owner: five machines' evidence in five minutes
FIVE = 5


def walk(address, options):
    from fleet.models import Machine
    from inspections.models import DeviceBook

    named = list(Machine.objects.order_by("serial").values_list("asset_number", flat=True)[:FIVE])
    with page_of(address, "walk-auditor", options.width) as page:
        hand = hand_of(page, options, "evidence")
        hand.press("link", "Machines", exact=True)
        hand.press("link", "Device books")
        hand.choose("Asset numbers", ", ".join(named))
        hand.press("button", "Make the device books")
        hand.wait_for_job()
        name, size = hand.fetch("link", "Download")
        is_done = DeviceBook.objects.filter(machine__asset_number__in=named).count() == FIVE
        return hand.report(
            f"evidence of {FIVE} machines, {size / 1e6:.1f} MB in {name}", goal=MOST_CLICKS, seconds=MOST_SECONDS,
            is_done=is_done,
        )  # fmt: skip
