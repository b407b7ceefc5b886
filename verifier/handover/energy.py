"""What the lighting of a house uses in a year, and what it costs, from how the house is used.

Three figures for each output stand beside each other: a mean of weeks that were simulated, the mean
by formula where its rule is simple enough (:mod:`~verifier.handover.expected`), and what it can come
to at most by proof (:mod:`~verifier.handover.at_most`); and what it would be if it were left on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from statistics import fmean, stdev

from verifier.handover.at_most import AtMost, at_most
from verifier.handover.expected import Expected, expected
from verifier.handover.live import Live
from verifier.handover.simulated import WEEK_DAYS, Week, outputs_of, simulated, weeks_to_play
from verifier.handover.year import Year, year_of
from verifier.model.job import Job, Point
from verifier.model.used import Standby
from verifier.surroundings.calendar import DAY_S

HOUR_S = 3600

T_95 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160,
    2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056,
    2.052, 2.048, 2.045, 2.042,
)  # fmt: skip
"""Student's t for 95 %, both sides, by degrees of freedom from 1. Source: the usual table, from memory."""


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean and half of its 95 % interval; None of one week alone."""

    value: float
    half: float | None


@dataclass(frozen=True, slots=True)
class OutputEnergy:
    """What one output does in a year. Energies are in kWh and None where no power is stated.

    ``left_on`` burns day and night, ``left_on_nights`` every night. ``standby`` is part of no other.
    """

    point: Point
    on_s: Mean
    switched: Mean
    simulated: Mean | None
    expected: Expected | None
    at_most: AtMost | None
    by_formula: float | None
    most: Fraction | None
    left_on: Fraction | None
    left_on_nights: Fraction | None
    standby: float | None
    standby_line: Standby | None

    @property
    def kwh(self) -> float | None:
        """What it uses in a year: by formula where there is one, else as simulated; with stand-by."""
        burning = self.by_formula
        if burning is None and self.simulated is not None:
            burning = self.simulated.value
        return None if burning is None else burning + (self.standby or 0.0)


@dataclass(frozen=True, slots=True)
class Energy:
    """The whole sum: ``idle`` are the inputs that stay as they are, ``dead`` the rules that never run."""

    job: Job
    year: Year
    weeks: int
    seed: int
    happenings: int
    outputs: tuple[OutputEnergy, ...]
    idle: tuple[tuple[str, str], ...]
    dead: tuple[str, ...]

    @property
    def kwh(self) -> float:
        """What all outputs with a stated power use in a year."""
        return sum(each.kwh or 0.0 for each in self.outputs)

    @property
    def left_on(self) -> Fraction:
        """The same if all were left on."""
        return sum((each.left_on or Fraction(0) for each in self.outputs), Fraction(0))


def kwh(power_w: Fraction, hours: Fraction) -> Fraction:
    """Kilowatt-hours: watts times hours by 1000.

    >>> kwh(Fraction(250), Fraction(5 * 365))
    Fraction(1825, 4)
    """
    return power_w * hours / 1000


def money(amount: Fraction | float) -> str:
    """An amount with two decimals, rounded once, half away from zero.

    >>> money(Fraction("33.507")), money(Fraction("77.5625")), money(Fraction("0.125"))
    ('33.51', '77.56', '0.13')
    """
    cents = int(Fraction(amount) * 100 + Fraction(1, 2))
    return f"{cents // 100}.{cents % 100:02d}"


def mean(values: Sequence[float]) -> Mean:
    """The mean of some weeks with its interval, by Student's t.

    >>> mean([1.0, 2.0, 3.0]).half
    2.484...
    """
    if len(values) < 2:
        return Mean(fmean(values), None)
    freedom = len(values) - 1
    t = T_95[freedom - 1] if freedom <= len(T_95) else 1.96 + 2.4 / freedom
    return Mean(fmean(values), t * stdev(values) / sqrt(len(values)))


@dataclass(frozen=True, slots=True)
class Told:
    """What is called as the work goes on: with each week, and each output whose bound is known."""

    week: Callable[[int], None]
    bound: Callable[[str], None]


def energy(
    job: Job, year: int, weeks: int | None, seed: int, limit_s: float, workers: int, told: Told
) -> Energy:
    """The energy of a year; ``weeks`` None: as many as can be played. Raises: NoNights, TooMuch."""
    of_year = year_of(job, year)
    live = Live(job)
    if weeks is None:
        weeks = weeks_to_play(job, of_year, seed)
    played = tuple(simulated(job, of_year, weeks, seed, told.week))
    bounds = at_most(job, of_year, live, limit_s, workers, told.bound)
    outputs = tuple(
        _output(job, of_year, live, number, point, played, bounds.get(point.name))
        for number, point in enumerate(outputs_of(job))
    )
    idle = tuple((name, value) for name, value in live.rest.items() if name not in live.used)
    dead = tuple(rule.name for rule in job.rules if rule.name not in live.names)
    happenings = sum(week.happenings for week in played)
    return Energy(job, of_year, weeks, seed, happenings, outputs, idle, dead)


def _output(
    job: Job,
    year: Year,
    live: Live,
    number: int,
    point: Point,
    played: tuple[Week, ...],
    bound: AtMost | None,
) -> OutputEnergy:
    spent = [week.spent[number] for week in played]
    to_year = year.days / WEEK_DAYS
    on = mean([float(each.on_s) * to_year for each in spent])
    full = mean([float(each.full_s) * to_year for each in spent])
    switched = mean([each.switched * to_year for each in spent])
    formula = expected(job, year, live, point)
    line = (
        next((s for s in job.usage.standby if s.point == point.name), None) if job.usage else None
    )
    whole_s = year.days * DAY_S
    burning_s = on.value if formula is None else formula.on_s
    standby = None if line is None else float(line.power_w) * (whole_s - burning_s) / HOUR_S / 1000
    power = point.power_w
    if power is None:
        return OutputEnergy(
            point, on, switched, None, formula, bound, None, None, None, None, standby, line
        )
    each_s = float(power) / HOUR_S / 1000
    half = None if full.half is None else full.half * each_s
    nights = None if year.nights is None else year.nights.seconds(0, whole_s)
    return OutputEnergy(
        point,
        on,
        switched,
        Mean(full.value * each_s, half),
        formula,
        bound,
        None if formula is None else formula.full_s * each_s,
        None if bound is None else kwh(power, bound.on_s / HOUR_S),
        kwh(power, Fraction(whole_s, HOUR_S)),
        None if nights is None else kwh(power, Fraction(nights, HOUR_S)),
        standby,
        line,
    )
