"""Papers as files: which kind by the name's ending, written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.written import NotWritten, write_whole
from verifier.source import Span


class PaperPath(click.ParamType[Path, Any]):
    """A file whose ending says which kind of paper it is to be."""

    name = "FILE"

    def __init__(self, endings: tuple[str, ...]) -> None:
        self.endings = endings

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path."""
        path = Path(value)
        if path.suffix.lower() not in self.endings:
            self.fail(
                f'"{value}" does not say which kind: let it end in {" or ".join(self.endings)}',
                param,
                ctx,
            )
        return path


def write_paper(path: Path, title: str, body: str) -> None:
    """Writes a page, as HTML or PDF. Raises: NotWritten."""
    from verifier.front.page import NoPdf, page, pdf_of

    html = page(title, body)
    if path.suffix.lower() != ".pdf":
        write_whole(path, html.encode("utf-8"))
        return
    try:
        data = pdf_of(html)
    except NoPdf as missing:
        raise NotWritten(
            Diagnostic(
                "no-pdf",
                Severity.ERROR,
                f"PDF needs WeasyPrint and its libraries: {missing.args[0]}",
                (Label(Span("-o", 0, 0)),),
                "Install them with `pip install 'duskproof[pdf]'` (and Pango from the system), or "
                "write FILE.html and print it.",
            )
        ) from missing
    write_whole(path, data)
