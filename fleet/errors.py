"""What can be refused. Every message says what, shows the value and says what to do."""


class Refused(Exception):
    """A change that the state of the record does not allow; the message is fit for a page."""


class DutyRefused(Refused):
    """A change of status that the present status does not allow."""


class FeatureRefused(Refused):
    """A feature state that contradicts the dated history."""


class ComponentRefused(Refused):
    """A part that cannot be fitted or removed as asked."""


class CircuitOvertaken(ComponentRefused):
    """A gas circuit that is no longer as it was when somebody began to change it."""


class RegisterRefused(Refused):
    """A correction of the register that contradicts what is recorded."""


class InstrumentRefused(Refused):
    """An instrument or a calibration that cannot be kept as given."""


class JobRefused(Refused):
    """A background job that cannot be requested, cancelled or repeated in its present state."""


class TokenRefused(Refused):
    """A key of a program that cannot be handed out or taken back as asked."""


class PersonRefused(Refused):
    """A change of an account that would give or leave rights as nobody may."""


class FileRefused(Refused):
    """A file that takes more to read than is allowed, or that comes while too many others are being read."""


class PreviewOvertaken(RegisterRefused):
    """The register is no longer as it was when a preview of an import was shown."""
