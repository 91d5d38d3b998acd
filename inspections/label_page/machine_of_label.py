"""The machine whose label bears a text: the code itself, or an address that ends in it."""

from urllib.parse import urlsplit

from inspections.models import MachineLabel


def machine_key_of(text):
    """Return the key of the machine with this code on its label, in force or replaced; None if no label has it."""
    try:
        last_part = urlsplit(text).path.strip("/").rpartition("/")[2]
    except ValueError:
        return None
    return MachineLabel.objects.with_code(last_part).values_list("machine", flat=True).first()
