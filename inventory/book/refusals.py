"""What the book refuses. The text of each is a sentence for the person."""


class LedgerError(Exception):
    """An act that the book refuses; the text is a sentence for the person."""


class RequestKeyReused(LedgerError):
    """The same form was used for two different requests."""


class NotEnoughHeld(LedgerError):
    """More would leave a cylinder than it holds."""


class WouldMix(LedgerError):
    """Two refrigerants or grades would stand in one cylinder."""


class WrongLine(LedgerError):
    """A movement outside the closed lists."""


class WrongTime(LedgerError):
    """A time that cannot be."""


class NotReversible(LedgerError):
    """An entry that cannot be reversed, or not any more."""


class TooMuchExplained(LedgerError):
    """More would be explained than is left of a difference."""


class Refused(LedgerError):
    """The act itself is not allowed; the sentence names the way out."""
