"""The exceptions of Evenground and the findings they carry.

::

    EvengroundError
    ├── InputError         the user's data are wrong; carries every finding at once; exit code 2
    ├── OutOfRangeError    a formula was asked for outside its range of validity
    ├── NotConvergedError  an iteration or a solve did not reach its tolerance
    ├── TooLargeError      a job would need more memory than allowed; nothing was started
    └── CancelledError     the user stopped a long job

A number that could not be computed is one of these, or a named "not decided" in the study; it is
never 0 and never a clamped value.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "CancelledError",
    "EvengroundError",
    "Finding",
    "InputError",
    "NotConvergedError",
    "OutOfRangeError",
    "Severity",
    "TooLargeError",
]


class Severity(StrEnum):
    """How much a finding weighs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, doubtful or worth knowing, tied to a place in the input.

    Attributes
    ----------
    code : str
        Short stable identifier in kebab case, e.g. ``"soil-spacing-short"``.
    message : str
        What is wrong, with the value and its unit.
    advice : str
        What would be right, or what to do; may be empty.
    severity : Severity
    path : tuple of str or int
        Path of the field in the project file, e.g. ``("soil", "traverses", 0, "readings", 3)``.
    file, line, column : str, int, int
        Where the field stands; line and column count from 1, 0 when unknown.
    excerpt : str
        The offending line of the file, when known.
    """

    code: str
    message: str
    advice: str = ""
    severity: Severity = Severity.ERROR
    path: tuple[str | int, ...] = ()
    file: str = ""
    line: int = 0
    column: int = 0
    excerpt: str = ""

    @property
    def field(self) -> str:
        """The path as text, ``soil.traverses[0].readings[3]``."""
        text = ""
        for part in self.path:
            text += f"[{part}]" if isinstance(part, int) else (f".{part}" if text else part)
        return text

    def __str__(self) -> str:
        where = ":".join(str(p) for p in (self.file, self.line, self.column) if p)
        head = ": ".join(p for p in (where, self.field, self.message) if p)
        return f"{head} ({self.advice})" if self.advice else head


class EvengroundError(Exception):
    """Base of every error the program raises on purpose."""


class InputError(EvengroundError):
    """The user's data are wrong. Carries all findings of one pass, never only the first."""

    def __init__(self, findings: Iterable[Finding] | str) -> None:
        if isinstance(findings, str):
            findings = (Finding(code="input", message=findings),)
        self.findings: tuple[Finding, ...] = tuple(findings)
        super().__init__("\n".join(str(f) for f in self.findings))


class OutOfRangeError(EvengroundError):
    """A formula or model was asked for a value outside its stated range of validity."""


class NotConvergedError(EvengroundError):
    """An iteration stopped before reaching its tolerance; the message gives residual and count."""


class TooLargeError(EvengroundError):
    """The job would need more memory than is allowed; refused before it started."""


class CancelledError(EvengroundError):
    """The user stopped a long job."""
