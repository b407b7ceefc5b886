"""Diagnostics as data: the record and the registry of codes. No printing happens here."""

from verifier.diagnostics.record import Diagnostic, Label, Severity

__all__ = ["Diagnostic", "Label", "Severity"]
