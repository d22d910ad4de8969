"""Every error and warning that the package raises.

The tree::

    WearlabError                 root; carries where, found, allowed, hint
    ├── ArgumentError            a call or an option asks for what does not exist (also a ValueError)
    ├── FileProblem              a file cannot be read or written
    └── Refusal                  the numbers are in order, but the question cannot be answered from them
    WearlabWarning               root of the warnings (a UserWarning)
    └── NotConverged             an iteration stopped short of its tolerance

A refusal is an answer: it names the reason, and the command line exits with 0 after printing it.
"""

from __future__ import annotations


class WearlabError(Exception):
    """Root of all errors: says where, what was found, what is allowed and what to do.

    Parameters
    ----------
    found : str
        What was found, in plain words.
    where : str
        File, line, cutter or option that it was found in.
    allowed : str
        What would have been accepted.
    hint : str
        What to do next.
    """

    def __init__(self, found: str, *, where: str = "", allowed: str = "", hint: str = "") -> None:
        self.found = found
        self.where = where
        self.allowed = allowed
        self.hint = hint
        super().__init__(self.message())

    def message(self) -> str:
        """Join the four facts into one line."""
        text = f"{self.where}: {self.found}" if self.where else self.found
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.hint:
            text += f". {self.hint[0].upper()}{self.hint[1:]}"
        return text


class ArgumentError(WearlabError, ValueError):
    """An argument or an option has a value that cannot be used."""


class FileProblem(WearlabError):
    """A file cannot be read, is not what its name says, or stands in the way of writing."""


class Refusal(WearlabError):
    """The question cannot be answered from these numbers; `found` is the reason."""


class WearlabWarning(UserWarning):
    """Root of the package's warnings."""


class NotConverged(WearlabWarning):
    """An iteration stopped before it met its tolerance."""
