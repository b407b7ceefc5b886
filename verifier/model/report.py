"""Diagnostics while they are collected, and near names."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import Span

SPELLING_LIMIT = 500
"""Names that a wrong one is compared with letter by letter; of more, that would take too long."""


class Report:
    """What was found so far; the same thing at the same place is told once.

    (A typical that is applied three times is checked three times.)
    """

    def __init__(self) -> None:
        self._found: dict[tuple[str, Span], Diagnostic] = {}

    def add(
        self,
        severity: Severity,
        code: str,
        message: str,
        span: Span,
        hint: str = "",
        *,
        text: str = "",
        also: tuple[Label, ...] = (),
    ) -> None:
        """Take in one finding; ``also`` are further places."""
        labels = (Label(span, text), *also)
        self._found.setdefault((code, span), Diagnostic(code, severity, message, labels, hint))

    def error(
        self, code: str, message: str, span: Span, hint: str = "", *, also: tuple[Label, ...] = ()
    ) -> None:
        """Take in an error."""
        self.add(Severity.ERROR, code, message, span, hint, also=also)

    def warning(
        self, code: str, message: str, span: Span, hint: str = "", *, also: tuple[Label, ...] = ()
    ) -> None:
        """Take in a warning."""
        self.add(Severity.WARNING, code, message, span, hint, also=also)

    def note(self, code: str, message: str, span: Span, hint: str = "") -> None:
        """Take in a note."""
        self.add(Severity.NOTE, code, message, span, hint)

    @property
    def has_errors(self) -> bool:
        """Whether any finding is an error."""
        return any(found.severity is Severity.ERROR for found in self._found.values())

    def diagnostics(self) -> tuple[Diagnostic, ...]:
        """All findings, by file and place, in order of finding where they share one."""
        found = list(self._found.values())
        return tuple(
            sorted(found, key=lambda each: (each.labels[0].span.file, each.labels[0].span.start))
        )


def joined(words: Iterable[str], last: str = "or") -> str:
    """Words in quotation marks, as a list to read.

    >>> joined(["on", "off"]), joined(["a", "b", "c"], "and")
    ('`on` or `off`', '`a`, `b` and `c`')
    """
    quoted = [f"`{word}`" for word in words]
    if len(quoted) < 2:
        return "".join(quoted)
    return f"{', '.join(quoted[:-1])} {last} {quoted[-1]}"


def near_names(word: str, known: Iterable[str]) -> list[str]:
    """At most three of the known names that are like a word, the nearest first.

    First those that differ in capitals or underscores only, then the same name inside a typical's
    application, then names of about the same length that are spelt alike.

    >>> near_names("bay_light", ["bay_lights", "side_door", "bench_strip"])
    ['bay_lights']
    >>> near_names("PIR", ["push", "floor_1.pir", "Pir"])
    ['Pir', 'floor_1.pir']
    """
    names = list(dict.fromkeys(known))
    folded = _folded(word)
    same = [name for name in names if _folded(name) == folded]
    inside = [name for name in names if _folded(name.rpartition(".")[2]) == folded]
    like = {
        name.lower(): name
        for name in reversed(names)
        if abs(len(name) - len(word)) <= max(3, len(word) // 3)
    }
    close = (
        get_close_matches(word.lower(), list(like), n=3, cutoff=0.65)
        if len(like) <= SPELLING_LIMIT
        else []
    )
    return list(dict.fromkeys([*same, *inside, *(like[name] for name in close)]))[:3]


def _folded(name: str) -> str:
    return name.lower().replace("_", "")


def did_you_mean(word: str, known: Iterable[str], otherwise: str) -> str:
    """A hint with near names, or ``otherwise`` if none is near."""
    near = near_names(word, known)
    return f"Did you mean {joined(near)}?" if near else otherwise
