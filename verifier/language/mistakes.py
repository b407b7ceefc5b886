"""What to say where the grammar stopped."""

from __future__ import annotations

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.language.driver import Trouble
from verifier.source import SourceFile, Span


def explain(file: SourceFile, trouble: Trouble) -> Diagnostic:
    """The diagnostic of a syntax mistake."""
    token = trouble.token
    text = token.text if token.text.strip() else "the end of the line"
    return Diagnostic(
        "syntax",
        Severity.ERROR,
        f"`{text}` cannot stand here",
        (Label(Span(file.name, token.start, token.end)),),
        "expected " + ", ".join(sorted(trouble.usable)),
    )
