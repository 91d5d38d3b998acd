"""Serial numbers that a person must look at: placeholders, and those that are nearly that of another machine."""

from fleet.imports.plan import problem
from fleet.register_file.meanings import is_placeholder, look_of

SHORTEST = 3  # shorter ones are alike by chance: common practice, no source


class Serials:
    """The serial numbers of the register, and of the rows that were read so far, as they look."""

    def __init__(self, scope):
        self.scope, self.seen, self._held = scope, {}, None

    def check(self, row, fields, machine, problems):
        """Add a problem for the serial number of a new machine, or for one that is corrected."""
        serial, model = fields.get("serial"), fields.get("model") or (machine and machine.model)
        if not serial or (machine is not None and machine.serial == serial):
            return
        if self.scope.meanings.confirms("serial", serial):
            return
        if is_placeholder(serial):
            accepted = "blank where the serial number is not known, or your word that this is the serial number."
            problems.append(problem(row, "serial", "looks like a placeholder.", accepted, "placeholder"))
        elif model is not None and len(look_of(serial)) >= SHORTEST:
            self._compare(row, serial, model, problems)

    def _compare(self, row, serial, model, problems):
        key = (model.manufacturer.casefold(), look_of(serial))
        asset = row.values["asset_number"]
        other = self.held.get(key) or self.seen.get(key)
        if other and other[0] != asset:
            number, held_serial, place = other
            same = "the same" if held_serial == serial else f"nearly the same, {held_serial}"
            message = (
                f"is the serial number of another machine of {model.manufacturer} as well: {number}{place} has {same}."
            )
            accepted = "your word that these are two machines, or one of the two rows."
            problems.append(problem(row, "serial", message, accepted, "near"))
        self.seen.setdefault(key, (asset, serial, f" in row {row.number}"))

    @property
    def held(self):
        """Manufacturer and look -> (asset number, serial, place in words), read once when first needed."""
        if self._held is None:
            rows = self.scope.machines.exclude(serial="").order_by("pk")
            rows = rows.values_list("model__manufacturer", "serial", "asset_number")
            self._held = {
                (manufacturer.casefold(), look_of(serial)): (asset, serial, " of the register")
                for manufacturer, serial, asset in rows
            }
        return self._held
