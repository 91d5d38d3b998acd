"""The items of a decommissioning as data: each says what, why and from where."""

import tomllib

from inspections.decommissioning.checklist import FILE, ITEMS, ROUTES


def test_every_item_says_what_is_to_be_done_and_who_asks_for_it():
    assert len(ITEMS) == len(tomllib.loads(FILE.read_text(encoding="utf-8"))["item"])
    for item in ITEMS.values():
        assert item.title and item.asks.endswith(".") and item.source
        assert item.basis in ("seen", "from memory", "common practice, no source")
        assert not item.caution or item.caution.endswith(".")


def test_what_has_to_be_asked_at_the_end_of_a_machine_is_asked():
    assert {"authorised", "cleaned", "data", "batteries", "absorbent", "mercury", "route"} <= set(ITEMS)
    assert [one.code for one in ITEMS.values() if one.routes] == ["route"]
    assert set(ROUTES) == {"reuse", "parts", "scrap", "return"}
