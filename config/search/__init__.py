"""One box for asset number, serial number, lot, instrument, person and notice."""
