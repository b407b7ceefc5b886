"""Syntax trees to the checked job: names, units and types resolved, typicals applied."""

from verifier.model.checking import check, check_form

__all__ = ["check", "check_form"]
