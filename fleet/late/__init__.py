"""Heavy packages of others, each loaded when something of it is first asked for.

Most commands and pages need none of them: without this, starting any process would load them all. Use them as the
modules that they stand for; ask for nothing of them while a module is imported, or they are loaded at once.
"""

from importlib import import_module


class LateModule:
    """Stands for the module of this name. Raises what its import raises, at the first use."""

    def __init__(self, name: str):
        self._name = name

    def __getattr__(self, attribute: str):
        found = getattr(import_module(self._name), attribute)
        setattr(self, attribute, found)  # from now on it is found without this method
        return found


linalg = LateModule("scipy.linalg")
networkx = LateModule("networkx")
np = LateModule("numpy")
openpyxl = LateModule("openpyxl")
openpyxl_cells = LateModule("openpyxl.cell")
openpyxl_charts = LateModule("openpyxl.chart")
openpyxl_styles = LateModule("openpyxl.styles")
openpyxl_utils = LateModule("openpyxl.utils")
optimize = LateModule("scipy.optimize")
sparse = LateModule("scipy.sparse")
special = LateModule("scipy.special")
stats = LateModule("scipy.stats")
webauthn = LateModule("webauthn")
webauthn_structs = LateModule("webauthn.helpers.structs")
