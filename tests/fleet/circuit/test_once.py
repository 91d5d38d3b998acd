"""An attribute that is computed when it is first asked for."""

from fleet.circuit.once import once


class Counting:
    def __init__(self):
        self.asked = 0

    @once
    def found(self):
        """What is found."""
        self.asked += 1
        return self.asked


def test_it_is_computed_once_for_each_object():
    one, other = Counting(), Counting()
    assert (one.found, one.found, one.asked, other.asked) == (1, 1, 1, 0)
    assert other.found == 1


def test_the_class_shows_its_description():
    assert Counting.found.__doc__ == "What is found."
