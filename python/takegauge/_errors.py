"""What can go wrong. Every message is the program's own: what, where, and what to do."""

__all__ = ["DrillError", "Error", "InputError", "JournalError", "NotScoredError"]


class Error(Exception):
    """Any error of takegauge."""


class InputError(Error, ValueError):
    """A file that cannot be read, or an argument that is not allowed."""


class NotScoredError(Error):
    """The take could be read and does not fit the drill; or the takes make no ladder."""


class DrillError(InputError):
    """A drill that cannot be read, made, brought in or taken out."""


class JournalError(Error):
    """A journal that cannot be read."""
