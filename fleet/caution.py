"""What every output says of itself, in one place."""

QUALIFIED = "For qualified personnel."
COMES_FIRST = "The manufacturer's instructions, local codes and licensed practice come first."
NEVER_CLEARS = "Bobbin computes and records; it never clears a machine: a person signs."
