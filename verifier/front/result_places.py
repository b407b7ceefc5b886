"""Places of a job in the short form that people click on: ``file:line``."""

from __future__ import annotations

from verifier.source import Sources, Span


def line_of(span: Span, sources: Sources) -> str:
    """``file:line`` of a span; only the file's name where its text is not at hand.

    >>> from verifier.source import SourceFile
    >>> line_of(Span("a.dusk", 7, 8), Sources((SourceFile("a.dusk", "lamp a\\nlamp b\\n"),)))
    'a.dusk:2'
    """
    file = sources.by_name.get(span.file)
    return span.file if file is None else f"{file.name}:{file.line_and_column(span.start)[0]}"
