"""The test sheet as CSV (RFC 4180): for a spreadsheet, or to be read back."""

from __future__ import annotations

from verifier.front.sheet_html import COLUMNS, rows_of
from verifier.handover.csv_table import csv_text
from verifier.handover.sheet import Sheet


def sheet_csv(sheet: Sheet) -> str:
    """The rows with their heads."""
    return csv_text((COLUMNS, *rows_of(sheet)))
