"""The diagnostic record: one value, many renderers."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from verifier.source import Span


class Severity(enum.Enum):
    """How much a diagnostic weighs. An error means exit code 2."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Label:
    """A place with a few words about it (may be empty for the first label)."""

    span: Span
    text: str = ""


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One thing to tell the author.

    ``code`` is a kebab-case name that the registry explains; ``message`` one line that stands
    alone; the first of ``labels`` is the place, narrow; ``hint`` says what to do.
    """

    code: str
    severity: Severity
    message: str
    labels: tuple[Label, ...]
    hint: str = ""
