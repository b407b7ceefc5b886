"""Figures in words: exact, and as the contract writes them."""

from __future__ import annotations

import re
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from verifier.model.words import DAYS, clock_time, days, duration, level, number

UNITS = {"h": Fraction(3600), "min": Fraction(60), "s": Fraction(1), "ms": Fraction(1, 1000)}
decimals = st.builds(
    lambda n, places: Fraction(n, 10**places), st.integers(0, 10**9), st.integers(0, 6)
)


@given(decimals)
def test_a_duration_adds_up_to_itself_and_its_units_go_down(seconds: Fraction) -> None:
    parts = re.findall(r"([0-9.]+) (h|min|s|ms)", duration(seconds))
    assert " ".join(f"{figure} {unit}" for figure, unit in parts) == duration(seconds)
    assert sum(Fraction(figure) * UNITS[unit] for figure, unit in parts) == seconds
    units = [list(UNITS).index(unit) for _, unit in parts]
    assert units == sorted(set(units))


@given(decimals, st.booleans())
def test_a_figure_with_a_finite_decimal_reads_back_exactly_without_idle_noughts(
    figure: Fraction, negative: bool
) -> None:
    figure = -figure if negative else figure
    text = number(figure)
    assert Fraction(text) == figure
    assert re.fullmatch(r"-?(0|[1-9]\d*)(\.\d*[1-9])?", text)


@given(st.fractions())
def test_any_figure_reads_back_exactly(figure: Fraction) -> None:
    assert Fraction(number(figure)) == figure


@given(st.integers(0, 86399))
def test_a_clock_time_reads_back(seconds: int) -> None:
    hours, minutes, *rest = (int(part) for part in clock_time(seconds).split(":"))
    assert hours * 3600 + minutes * 60 + sum(rest) == seconds


def test_levels_and_days_are_as_the_contract_writes_them() -> None:
    # Source: language.md, Lexical and Conditions.
    assert level(Fraction(60)) == "60 %"
    assert duration(Fraction(90)) == "1 min 30 s"
    assert duration(Fraction(1, 4)) == "250 ms"
    assert clock_time(22 * 3600 + 30 * 60) == "22:30"
    assert days(frozenset({1, 0})) == "mon, tue"
    assert len(DAYS) == 7
