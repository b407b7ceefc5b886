"""Answers as bytes and back, to keep them or to send them: plain JSON, nothing that could be run."""

from __future__ import annotations

import json
import zlib
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from verifier.proof import verdict as verdicts
from verifier.proof.chain import Chain
from verifier.simulate.run import Played, Run, RunClock, Step
from verifier.source import Span

_CLASSES: dict[str, Any] = {
    kind.__name__: kind
    for kind in (
        verdicts.Answered,
        verdicts.Certificate,
        verdicts.LeftOut,
        verdicts.LimitMet,
        verdicts.OutOfRoom,
        verdicts.OutOfTime,
        verdicts.ProofNotChecked,
        verdicts.Proved,
        verdicts.Refuted,
        verdicts.RunCannotBe,
        verdicts.RunComesToAStop,
        verdicts.RunNotOnTheWhole,
        verdicts.Undecided,
        verdicts.WorkerEnded,
        Chain,
        Played,
        Run,
        RunClock,
        Span,
        Step,
    )
}

_KIND, _FRACTION = "is", "/"


class NotStored(Exception):
    """Bytes that are no answer, or a value that is none."""


def stored(value: Any) -> bytes:
    """An answer as bytes. Raises: NotStored at what no answer is made of."""
    text = json.dumps(_plain(value), separators=(",", ":"), ensure_ascii=True)
    return zlib.compress(text.encode(), 3)


def restored(data: bytes) -> Any:
    """The answer that the bytes are of. Raises: NotStored."""
    try:
        return _value(json.loads(zlib.decompress(data)))
    except (ValueError, TypeError, KeyError, zlib.error, ZeroDivisionError) as failure:
        raise NotStored(str(failure)) from failure


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | str | float):
        return value
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Fraction):
        return {_FRACTION: str(value)}
    name = type(value).__name__
    if is_dataclass(value) and _CLASSES.get(name) is type(value):
        inside = {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
        return {_KIND: name, **inside}
    raise NotStored(f"{name} is no part of an answer")


def _value(plain: Any) -> Any:
    if isinstance(plain, list):
        return tuple(_value(item) for item in plain)
    if not isinstance(plain, dict):
        return plain
    if _FRACTION in plain:
        return Fraction(plain[_FRACTION])
    kind = _CLASSES[plain.pop(_KIND)]
    return kind(**{name: _value(item) for name, item in plain.items()})
