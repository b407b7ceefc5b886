"""Rules that a job's promises speak of and that are still to be written."""

from __future__ import annotations

import re
from dataclasses import replace

from verifier.diagnostics import Severity
from verifier.pipeline import Result
from verifier.source import SourceFile, Sources

_BEFORE = re.compile(r"every\s+trigger\s+of\s+$")
_AFTER = re.compile(r"\s+(?:starts|ends|is\s+running)\b")
_NAME = re.compile(r"[A-Za-z]\w*")


def with_rules_to_come(result: Result) -> tuple[Result, tuple[str, ...]]:
    """The result with an empty rule for each that a promise names and nobody has written, and those.

    Only where nothing else is wrong: else the result as it was.
    """
    errors = [f for f in result.findings if f.severity is Severity.ERROR]
    names: dict[str, None] = {}
    for error in errors:
        span = error.labels[0].span
        file = result.sources.by_name.get(span.file)
        if error.code != "unknown-name" or file is None:
            return result, ()
        name = file.text[span.start : span.end]
        before, after = file.text[: span.start], file.text[span.end :]
        if not _NAME.fullmatch(name) or not (_BEFORE.search(before) or _AFTER.match(after)):
            return result, ()
        names[name] = None
    if not names:
        return result, ()
    from verifier.pipeline import checked

    text = "".join(
        f"rule {name}\n  upon power returns\n  do\n    end run\n  end rule\n" for name in names
    )
    sources = Sources((*result.sources.files, SourceFile("rules that are still to come", text)))
    again = checked(sources, result.name)
    if again.job is None or again.rejected:
        return result, ()
    return replace(again, sources=sources), tuple(names)
