"""A machine model that starts from a kind of machine: only what differs is asked, the circuit comes from the kit."""

from fleet.circuit.kit import start_of


def model_fields(kind, chosen=None, *, title):
    """Return the fields with which `add_model` makes a model of this kind."""
    start = start_of(kind, chosen or {}, title=title)
    return {
        "gases": list(start.gases),
        "vaporizer_positions": start.vaporizer_positions,
        "lacks": list(start.lacks),
        "circuit": start.circuit,
        "features": dict(start.features),
    }
