"""What a command ends with: the exit codes of the contract."""

from __future__ import annotations

import enum
from collections.abc import Iterable

from verifier.diagnostics import Severity
from verifier.pipeline import Result


class Exit(enum.IntEnum):
    """Exit codes, those of the contract and no others."""

    HOLDS = 0
    REFUTED = 1
    WRONG_INPUT = 2
    UNDECIDED = 3
    TOOL_FAULT = 70
    INTERRUPTED = 130


_WEIGHT = (
    Exit.INTERRUPTED,
    Exit.WRONG_INPUT,
    Exit.REFUTED,
    Exit.UNDECIDED,
    Exit.HOLDS,
)


def exit_code(results: Iterable[Result], strict: bool) -> Exit:
    """The exit code of one job or several: of several, what weighs most."""
    codes = {_of_one(result, strict) for result in results}
    return next((code for code in _WEIGHT if code in codes), Exit.HOLDS)


def _of_one(result: Result, strict: bool) -> Exit:
    from verifier.proof.verdict import Refuted, Undecided

    if result.interrupted:
        return Exit.INTERRUPTED
    if result.rejected:
        return Exit.WRONG_INPUT
    warned = any(f.severity is Severity.WARNING for f in result.findings)
    verdicts = [verdict for _, verdict, _ in result.verdicts]
    if any(isinstance(v, Refuted) for v in verdicts) or (strict and warned):
        return Exit.REFUTED
    if any(isinstance(v, Undecided) for v in verdicts):
        return Exit.UNDECIDED
    return Exit.HOLDS
