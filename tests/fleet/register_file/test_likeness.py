import pytest

from fleet.register_file.likeness import most_like

SITES = ("St Aubrey's Hospital", "Wexcombe General", "Lower Marl Clinic")


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("St. Aubrey's", "St Aubrey's Hospital"),
        ("ST AUBREYS", "St Aubrey's Hospital"),
        ("Wexcombe Gen.", "Wexcombe General"),
        ("L. Marl", "Lower Marl Clinic"),
        ("LMC", "Lower Marl Clinic"),
        ("Upper Tarn", None),
        ("", None),
    ],
)
def test_the_likely_site_is_found_and_no_unlikely_one(text, name):
    assert most_like(text, SITES) == name


def test_rooms_of_different_numbers_are_never_alike():
    assert most_like("Th 2", ("Theatre 1", "Theatre 3")) is None
    assert most_like("Theater 2", ("Theatre 1", "Theatre 2")) == "Theatre 2"
