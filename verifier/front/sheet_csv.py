"""The test sheet as CSV (RFC 4180): for a spreadsheet, or to be read back."""

from __future__ import annotations

import csv
import io

from verifier.front.sheet_html import COLUMNS, rows_of
from verifier.handover.sheet import Sheet


def sheet_csv(sheet: Sheet) -> str:
    """The rows with their heads; what a spreadsheet would take for a formula is made harmless."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows([_harmless(cell) for cell in row] for row in rows_of(sheet))
    return out.getvalue()


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t") else cell
