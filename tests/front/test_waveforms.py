"""Waveforms, read again by two readers of others: vcdvcd, and the tokens of pyvcd."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from tests.front.written import ALL, result, traces
from verifier.explain.told import REPORTED
from verifier.front.vcd import scale_of, vcd_text
from verifier.handover.traces import Subject, Trace


def read(text: str) -> Any:
    vcdvcd = pytest.importorskip("vcdvcd", reason="pip install vcdvcd")
    return vcdvcd.VCDVCD(vcd_string=text)


def signal_of(job: str, subject: Subject) -> str:
    """The path of a subject's signal, for those that have one."""
    scope = {"rule": "_rules.", "report": "_reported."}.get(subject.kind, "")
    return f"{job}.{scope}{subject.name.removesuffix(REPORTED)}"


@pytest.mark.parametrize("name", ALL)
def test_a_general_reader_finds_every_two_valued_subject_as_it_was_at_every_moment(
    name: str,
) -> None:
    compared = 0
    for trace in traces(name):
        waves = read(vcd_text(result(name), trace))
        tick = Fraction(str(waves.timescale["timescale"]))
        job = result(name).name.replace("-", "_")
        last = dict(zip(trace.moments_s, trace.states, strict=True))
        for subject in trace.subjects:
            if len(subject.values) != 2:
                continue
            signal = waves[signal_of(job, subject)]
            for at_s, state in last.items():
                # The last of several changes of one moment; the reader has them in order.
                shown = [value for at, value in signal.tv if at * tick <= at_s][-1]
                assert subject.values[int(shown)] == state[subject.name], (subject, at_s)
                compared += 1
    # The stair and the fade have dimmers and buttons alone.
    assert compared > 0 or name in ("stair", "thirds")


@pytest.mark.parametrize("name", ALL)
def test_moments_are_exact_and_the_requirement_breaks_when_it_does(name: str) -> None:
    for trace in traces(name):
        text = vcd_text(result(name), trace)
        waves = read(text)
        tick = Fraction(str(waves.timescale["timescale"]))
        job = result(name).name.replace("-", "_")
        instants = waves[f"{job}._run.instant"].tv
        # The reader keeps what follows itself within one moment, too.
        assert [int(value, 2) for _, value in instants] == list(range(len(trace.states)))
        if "Moments are exact." in text:
            assert [at * tick for at, _ in instants] == list(trace.moments_s)
        word = "broken" if trace.role == "counterexample" else "reached"
        ends = waves[f"{job}._run.{word}"].tv
        assert [value for _, value in ends] == ["0", "1"]
        end_s, just_after = trace.run.end_s
        assert ends[-1][0] * tick - end_s == (tick if just_after else 0) or name == "thirds"


def test_a_moment_without_a_finite_decimal_is_told_to_be_rounded() -> None:
    (trace,) = traces("thirds")
    assert any(at.denominator % 3 == 0 for at in trace.moments_s)
    text = vcd_text(result("thirds"), trace)
    assert "Moments are rounded to the nearest" in text
    assert "$timescale 1 fs $end" in text


@pytest.mark.parametrize(
    ("moments", "magnitude", "unit", "exact"),
    [
        (("0", "60"), 1, "ms", True),
        (("0.001",), 1, "ms", True),
        (("0.0001",), 100, "us", True),
        (("0.00025",), 10, "us", True),
        (("1/1000000",), 1, "us", True),
        (("1/1024",), 100, "ps", True),  # 976562.5 ns
        (("1/3",), 1, "fs", False),
        # 2^63 fs are 9223 s: over that the finest scale does not go.
        (("1/3", "9000"), 10, "fs", False),
        (("31536000",), 1, "ms", True),
    ],
)
def test_the_timescale_is_the_coarsest_in_which_all_moments_are_whole(
    moments: tuple[str, ...], magnitude: int, unit: str, exact: bool
) -> None:
    figures = tuple(Fraction(text) for text in moments)
    scale = scale_of(figures)
    assert (scale.magnitude, scale.unit, scale.exact) == (magnitude, unit, exact)
    if exact:
        assert all((at * scale.per_second).denominator == 1 for at in figures)


@pytest.mark.parametrize("name", ALL)
def test_another_reader_takes_every_token_and_time_never_goes_back(name: str) -> None:
    reader = pytest.importorskip("vcd.reader", reason="pip install pyvcd")
    kinds = reader.TokenKind
    for trace in traces(name):
        text = vcd_text(result(name), trace)
        tokens = list(reader.tokenize(io.BytesIO(text.encode("utf-8"))))
        times = [t.data for t in tokens if t.kind is kinds.CHANGE_TIME]
        assert times == sorted(set(times))
        declared = [t.data.id_code for t in tokens if t.kind is kinds.VAR]
        assert len(declared) == len(set(declared))
        changed = {
            t.data.id_code
            for t in tokens
            if t.kind in (kinds.CHANGE_SCALAR, kinds.CHANGE_VECTOR, kinds.CHANGE_REAL)
        }
        assert changed == set(declared)


def test_levels_of_a_dimmer_are_reals_and_a_level_in_between_has_two() -> None:
    trace = next(t for t in traces("stair") if t.requirement.name == "warned_bright")
    waves = read(vcd_text(result("stair"), trace))
    least = [(at, float(v)) for at, v in waves["stair_first_draft.stair.at_least"].tv]
    most = [(at, float(v)) for at, v in waves["stair_first_draft.stair.at_most"].tv]
    assert least == [(0, 0), (0, 100), (180_000, 33), (200_100, 0)]
    assert most == [(0, 0), (0, 100), (200_100, 33)]


def test_runs_of_a_rule_are_counted_and_reports_stand_in_a_scope_of_their_own() -> None:
    found = traces("reports")
    assert any("2 running" in s["light"] for t in found for s in t.states)
    for trace in found:
        waves = read(vcd_text(result("reports"), trace))
        assert "reports._reported.gate" in waves.signals
        many = any(" " in state["light"] for state in trace.states)
        name = "reports._rules.light" + (".running" if many else "")
        top = max(int(value, 2) for _, value in waves[name].tv)
        assert top == max(_running(state["light"]) for state in trace.states)


def _running(word: str) -> int:
    first = word.split(", ")[0]
    return 0 if first == "idle" else 1 if first == "running" else int(first.split()[0])


def test_more_signals_than_there_are_characters_have_codes_of_their_own() -> None:
    (trace,) = traces("blink")
    subjects = tuple(
        Subject(f"gate_{k}", "contact", "", ("shut", "open"), None) for k in range(300)
    )
    start = tuple((s.name, "open" if k % 2 else "shut") for k, s in enumerate(subjects))
    run = replace(trace.run, start=start, steps=(), cycle_from=None)
    many = Trace(trace.requirement, "counterexample", run, subjects)
    waves = read(vcd_text(result("blink"), many))
    assert [waves[f"blink.gate_{k}"][0] for k in range(300)] == [str(k % 2) for k in range(300)]


def test_a_comment_cannot_be_ended_by_what_stands_in_it() -> None:
    (trace,) = traces("blink")
    named = replace(result("blink"), name="yard $end $var wire 1 ! forged $end")
    waves = read(vcd_text(named, trace))
    assert all("forged" not in one.split(".")[1] for one in waves.signals)
