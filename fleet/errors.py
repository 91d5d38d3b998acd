"""What can be refused. Every message says what, shows the value and says what to do."""


class Refused(Exception):
    """A change that the state of the record does not allow; the message is fit for a page."""


class StatusRefused(Refused):
    """A change of status that the present status does not allow."""


class FeatureRefused(Refused):
    """A feature state that contradicts the dated history."""


class ComponentRefused(Refused):
    """A component that cannot be fitted or removed as requested."""


class CircuitOvertaken(ComponentRefused):
    """A gas circuit that has changed since somebody began to change it."""


class AlterationRefused(Refused):
    """An alteration that cannot be planned or carried out as requested."""


class RegisterRefused(Refused):
    """A correction of the register that contradicts what is recorded."""


class InstrumentRefused(Refused):
    """An instrument or a calibration that cannot be stored as given."""


class MoneyRefused(Refused):
    """An amount or a currency that cannot be stored as given."""


class JobRefused(Refused):
    """A background job that cannot be requested, cancelled or repeated in its present state."""


class TokenRefused(Refused):
    """A token of a program that cannot be issued or revoked as requested."""


class PersonRefused(Refused):
    """A change of an account that would break the rules of rights."""


class FileRefused(Refused):
    """A file that exceeds the limits of reading, or that arrives while too many others are being read."""


class PreviewOvertaken(RegisterRefused):
    """The register has changed since a preview of an import was shown."""
