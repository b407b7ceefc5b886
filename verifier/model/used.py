"""How a house is used, as its job states it: read by sums of energy, by no rule and no verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Use:
    """What happens so often a day, at random moments between two clock times.

    ``value`` is what the subject, an input or a door, becomes for ``lasts_s`` seconds; both are
    None of a button, which is pressed. ``times`` is the mean on each of the ``days`` (0 is Monday,
    None: every day). ``begins_s`` and ``ends_s`` are None where it is spread over the whole day.
    """

    subject: str
    value: str | None
    lasts_s: Fraction | None
    times: Fraction
    begins_s: int | None
    ends_s: int | None
    days: frozenset[int] | None
    source: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class NightHours:
    """Night from one clock time to another, for a job whose site rules no sun."""

    begins_s: int
    ends_s: int
    source: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Price:
    """What a kilowatt-hour costs."""

    per_kwh: Fraction
    currency: str
    source: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Standby:
    """What a lamp, dimmer or load draws while it is off."""

    point: str
    power_w: Fraction
    source: str
    span: Span = field(compare=False)


@dataclass(frozen=True, slots=True)
class Usage:
    """All that a job states of its use; ``labels`` are those of its `usage` blocks."""

    labels: tuple[str, ...] = ()
    uses: tuple[Use, ...] = ()
    standby: tuple[Standby, ...] = ()
    night: NightHours | None = None
    price: Price | None = None
