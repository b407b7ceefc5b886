"""Our trace JSON against its schema, and the informal trace format read by its own library."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest

from tests.check import ROOT
from tests.front.written import ALL, result, traces
from verifier.front.itf import itf_json
from verifier.front.trace_json import trace_json
from verifier.handover.traces import Trace

SCHEMA = json.loads((ROOT / "shared/schema/trace.schema.json").read_text(encoding="utf-8"))


def written(name: str, trace: Trace) -> Any:
    found = result(name)
    assert found.job is not None
    verdict = next(v for r, v, _ in found.verdicts if r is trace.requirement)
    return json.loads(trace_json(found, found.job, verdict, trace))


def validator() -> Any:
    jsonschema: Any = pytest.importorskip("jsonschema", reason="pip install jsonschema")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    return jsonschema.Draft202012Validator(SCHEMA)


@pytest.mark.parametrize("name", ALL)
def test_every_trace_is_as_the_schema_says(name: str) -> None:
    check = validator()
    for trace in traces(name):
        assert [error.message for error in check.iter_errors(written(name, trace))] == []


def test_the_schema_refuses_what_is_not_a_trace() -> None:
    check = validator()
    whole = written("blink", traces("blink")[0])
    for key in whole:
        assert list(check.iter_errors({k: v for k, v in whole.items() if k != key})), key
    assert list(check.iter_errors(whole | {"cycle_from": -1}))
    assert list(check.iter_errors(whole | {"start": {"gate": 0}}))
    whole["steps"][0]["at_s"] = 0.5
    assert list(check.iter_errors(whole))


@pytest.mark.parametrize("name", ALL)
def test_a_trace_read_again_is_the_run(name: str) -> None:
    files = {file.name: file.text.split("\n") for file in result(name).sources.files}
    for trace in traces(name):
        whole, run = written(name, trace), trace.run
        assert tuple(whole["start"].items()) == run.start
        assert [Fraction(s["at_s"]) for s in whole["steps"]] == [s.at_s for s in run.steps]
        assert [s["what"] for s in whole["steps"]] == [s.what for s in run.steps]
        assert [tuple(s["changes"].items()) for s in whole["steps"]] == [
            s.changes for s in run.steps
        ]
        assert Fraction(whole["end"]["at_s"]) == run.end_s[0]
        assert (whole["cycle_from"], whole["rests"]) == (run.cycle_from, run.rests)
        assert [s["name"] for s in whole["subjects"]] == [name for name, _ in run.start]
        places = [p for step in whole["steps"] for p in step["because"]]
        places += [s["where"] for s in whole["subjects"] if s["where"] is not None]
        for place in places:
            line = files[place["file"]][place["line"] - 1]
            assert line[place["column"] - 1 :].startswith(place["text"])
            assert place["text"]


def test_the_reference_names_every_key_of_a_trace() -> None:
    text = (ROOT / "grammar" / "README.md").read_text(encoding="utf-8")
    told = text[text.index("## Other outputs") :]
    for key in SCHEMA["properties"]:
        assert f"`{key}`" in told, key


def test_values_of_two_valued_subjects_are_among_those_that_are_listed() -> None:
    for name in ALL:
        for trace in traces(name):
            for subject in trace.subjects:
                if subject.values:
                    assert {state[subject.name] for state in trace.states} <= set(subject.values)


# ---------------------------------------------------------------- ITF


def read(text: str) -> Any:
    itf: Any = pytest.importorskip("itf_py", reason="pip install itf-py")
    return itf.trace_from_json(json.loads(text))


@pytest.mark.parametrize("name", ALL)
def test_the_formats_own_library_reads_the_states_of_the_run(name: str) -> None:
    for trace in traces(name):
        found = read(itf_json(result(name), trace))
        assert [state.values for state in found.states] == list(trace.states)
        assert found.vars == [subject.name for subject in trace.subjects]
        assert [Fraction(state.meta["at_s"]) for state in found.states] == list(trace.moments_s)
        assert [state.meta["index"] for state in found.states] == list(range(len(found.states)))
        assert found.meta["format"] == "ITF"
        failing = trace.role == "counterexample"
        assert found.meta["status"] == ("violation" if failing else "ok")


def test_a_run_that_goes_round_comes_back_to_the_state_before_the_loop() -> None:
    """ADR-015: a lasso is the states up to `loop`, then those from `loop` on again and again."""
    (trace,) = traces("blink")
    found = read(itf_json(result("blink"), trace))
    assert found.loop == trace.run.cycle_from + 1 if trace.run.cycle_from is not None else None
    assert found.states[-1].values == found.states[found.loop - 1].values
    assert found.loop < len(found.states)


def test_a_run_that_does_not_go_round_has_no_loop() -> None:
    (trace,) = traces("thirds")
    assert "loop" not in json.loads(itf_json(result("thirds"), trace))
