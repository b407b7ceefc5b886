"""The command line as people and programs meet it, with the real pipeline behind it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.check import ROOT
from verifier import __version__, proof
from verifier.front import command
from verifier.proof.verdict import OutOfRoom, Undecided

JOB = """\
contact side_door "Side door" starts shut
lamp bay_lights "Bay lights" 80 W

rule light "Light for a minute"
  retriggerable
  upon side_door becomes open
  do
    bay_lights on
    wait 1 min
    bay_lights off
end rule

require after_opening "Lit for a minute from every opening"
  when side_door becomes open: bay_lights is on for at least 1 min
end require

require lit "Lit while the door is open"
  always: side_door is open implies bay_lights is on
end require
"""
HOLDS = JOB[: JOB.index("require lit")]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "boat"
    folder.mkdir()
    (folder / "rules.dusk").write_text(JOB)
    return folder


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = command.run(arguments)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def as_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    code, out, _ = ran(capsys, "prove", *arguments, "--format", "json")
    return code, json.loads(out)


def verdicts(found: Any) -> dict[str, str]:
    return {entry["name"]: entry["verdict"] for entry in found["requirements"]}


# ---------------------------------------------------------------- prove


def test_a_job_is_judged_and_the_answer_carries_its_evidence(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, found = as_json(capsys, str(job))
    assert code == 1
    assert verdicts(found) == {"after_opening": "proved", "lit": "refuted"}
    proved, refuted = found["requirements"]
    assert proved["certificate"] == {"checked_by": ["z3", "cvc5"]}
    steps = refuted["counterexample"]["steps"]
    assert steps[0]["what"] == "side_door becomes open"
    assert "light runs out" in steps[1]["what"]
    assert [step["at_s"] for step in steps] == ["0", "60"]
    assert steps[0]["because"] == ["rules.dusk:6"]
    assert steps[0]["changes"]["bay_lights"] == "on"


def test_a_job_that_holds_ends_with_0(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job / "rules.dusk").write_text(HOLDS)
    code, out, err = ran(capsys, "prove", str(job))
    assert code == 0
    assert "✓ PROVED  after_opening" in out
    assert err == ""


def test_only_judges_the_requirements_named_in_declared_order(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert verdicts(as_json(capsys, str(job), "--only", "after_opening")[1]) == {
        "after_opening": "proved"
    }
    code, found = as_json(capsys, str(job), "--only", "lit", "--only", "after_opening")
    assert (code, list(verdicts(found))) == (1, ["after_opening", "lit"])


def test_a_form_asked_on_the_spot_is_judged_alone_or_beside_others(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    form = "no longer than 1 h: bay_lights is on"
    assert verdicts(as_json(capsys, str(job), "--ask", form)[1]) == {"asked": "refuted"}
    code, found = as_json(
        capsys, str(job), "--only", "after_opening", "--ask", "possible: bay_lights is on"
    )
    assert code == 0
    assert verdicts(found) == {"after_opening": "proved", "asked": "proved"}
    assert found["requirements"][1]["witness"]["steps"]


def test_a_form_can_be_asked_of_a_job_without_requirements(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job / "rules.dusk").write_text(JOB[: JOB.index("require")])
    assert as_json(capsys, str(job), "--ask", "possible: bay_lights is on")[0] == 0


def test_a_wrong_form_has_its_place_in_what_was_asked(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = ran(capsys, "prove", str(job), "--ask", "never: bay_lihgts is on")
    assert code == 2
    assert "never: bay_lihgts is on" in out
    caret_line = next(line for line in out.split("\n") if "^" in line)
    assert caret_line.count("^") == len("bay_lihgts")
    assert "bay_lights" in out


def test_an_unknown_requirement_is_answered_with_near_names(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, found = as_json(capsys, str(job), "--only", "after_openning")
    assert code == 2
    assert found["requirements"] == []
    assert [(f["code"], f["where"]) for f in found["findings"] if f["severity"] == "error"] == [
        ("unknown-requirement", "--only")
    ]
    assert found["findings"][-1]["hint"] == "Did you mean after_opening?"


def test_several_folders_are_judged_one_after_the_other(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "a.dusk").write_text(HOLDS)
    code, found = as_json(capsys, str(other), str(job))
    assert code == 1
    assert [each["job"] for each in found["jobs"]] == ["other", "boat"]


def test_strict_turns_a_warning_into_a_failure(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job / "rules.dusk").write_text(
        'contact side_door "Side door"\n'
        'require can "It can be open"\n  possible: side_door is open\nend require\n'
    )
    code, found = as_json(capsys, str(job))
    assert code == 0
    assert "warning" in {f["severity"] for f in found["findings"]}
    assert ran(capsys, "prove", str(job), "--strict")[0] == 1


def test_certificates_are_written_and_a_solver_accepts_them(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The files stand for themselves: a fresh solver answers unsat to each."""
    import z3

    target = tmp_path / "proofs"
    ran(capsys, "prove", str(job), "--only", "after_opening", "--certificates", str(target))
    files = sorted((target / "boat" / "after_opening").glob("*.smt2"))
    assert len(files) >= 6
    for file in files:
        solver = z3.Solver()
        solver.from_string(file.read_text())
        assert str(solver.check()) == "unsat", file.name


def test_certificates_that_cannot_be_written_are_an_error(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("")
    code, out, _ = ran(capsys, "prove", str(job), "--certificates", str(tmp_path / "file" / "x"))
    assert code == 2
    assert "[certificates-not-written]" in out


@pytest.mark.parametrize("words", ["5 lux", "0", "-3 s", "", "1 s 1 min"])
def test_a_time_limit_that_is_none_is_refused(
    job: Path, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = ran(capsys, "prove", str(job), f"--time-limit={words}")
    assert code == 2
    assert "is not a duration" in err


@pytest.mark.parametrize(
    "arguments", [(), ("prove",), ("prove", "x", "--nonsense"), ("nonsense",), ("codes", "a", "b")]
)
def test_wrong_words_end_with_2_and_no_traceback(
    arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = ran(capsys, *arguments)
    assert code == 2
    assert "Usage:" in out + err
    assert "Traceback" not in out + err


# ---------------------------------------------------------------- faults and interruptions


def fail(*_: object) -> None:
    raise ZeroDivisionError("so it goes\x1b[31m")


def test_a_fault_of_the_tool_ends_with_70_and_no_traceback(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(proof, "prove_job", fail)
    monkeypatch.delenv(command.DEBUG_VARIABLE, raising=False)
    code, out, err = ran(capsys, "prove", str(job))
    assert (code, out) == (70, "")
    assert "the tool itself failed: ZeroDivisionError" in err
    assert "so it goes<U+001B>[31m" in err
    assert f"duskproof --debug prove {job}" in err
    assert "Traceback" not in err


def test_a_fault_of_the_tool_is_json_too_where_json_was_asked(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(proof, "prove_job", fail)
    code, found = as_json(capsys, str(job))
    assert code == 70
    assert found["findings"][0]["code"] == "tool-fault"
    assert found["requirements"] == []


def test_debug_shows_where_the_tool_failed(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(proof, "prove_job", fail)
    monkeypatch.setenv(command.DEBUG_VARIABLE, "1")
    code, _, err = ran(capsys, "prove", str(job))
    assert code == 70
    assert "Traceback" in err


def test_an_interruption_prints_what_is_proved_so_far_and_ends_with_130(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The prover is replaced by one that is interrupted after its first verdict."""

    def stopped(job: object, requirements: Any, options: object, on_verdict: Any) -> None:
        on_verdict(requirements[1], Undecided(OutOfRoom(), 3), 0.5)
        raise KeyboardInterrupt

    monkeypatch.setattr(proof, "prove_job", stopped)
    code, out, _ = ran(capsys, "prove", str(job))
    assert code == 130
    assert "? UNDECIDED  lit" in out
    assert "Interrupted: 1 requirement not judged." in out
    code, found = as_json(capsys, str(job))
    assert (code, found["interrupted"], verdicts(found)) == (130, True, {"lit": "undecided"})


def test_undecided_ends_with_3(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def unsure(job: object, requirements: Any, options: object, on_verdict: Any) -> Any:
        judged = tuple((r, Undecided(OutOfRoom(), 3), 0.5) for r in requirements)
        return proof.JobResult(judged, ())

    monkeypatch.setattr(proof, "prove_job", unsure)
    assert ran(capsys, "prove", str(job))[0] == 3


# ---------------------------------------------------------------- as a process


def process(*arguments: str, **more: Any) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "verifier.front.command", *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        # A runner in the background may leave Ctrl-C ignored, and children would inherit that.
        preexec_fn=listens_to_interrupts,
        **more,
    )


def listens_to_interrupts() -> None:
    """Lets a child hear Ctrl-C, whatever the test runner does with it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_output_that_is_piped_is_plain_and_nothing_is_told_beside_it(job: Path) -> None:
    run = process("prove", str(job))
    out, err = run.communicate()
    assert run.returncode == 1
    assert "\x1b" not in out
    assert err == ""


def test_a_narrow_encoding_gets_marks_that_it_can_write(job: Path) -> None:
    (job / "rules.dusk").write_text(JOB.replace("Side door", "Tür 倉庫"), encoding="utf-8")
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    run = process("prove", str(job), env=env)
    out, _ = run.communicate()
    assert run.returncode == 1
    assert "X REFUTED  lit" in out
    assert out.isascii()


def test_a_reader_that_goes_away_is_no_fault(job: Path) -> None:
    with process("prove", str(job)) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()
        assert run.wait(60) == 1
        assert run.stderr.read() == ""


@pytest.mark.skipif(os.name == "nt", reason="no such signal there")
def test_ctrl_c_while_it_works_ends_with_130(tmp_path: Path) -> None:
    """A job with more requirements than are judged in a moment, stopped after half a second."""
    text = JOB + "".join(
        f'require more_{n} "More"\n  no longer than {n} s: bay_lights is on\nend require\n'
        for n in range(1000, 1400)
    )
    (tmp_path / "a.dusk").write_text(text)
    run = process("prove", str(tmp_path), "--format", "json")
    time.sleep(1.5)
    run.send_signal(signal.SIGINT)
    out, err = run.communicate(timeout=60)
    assert run.returncode == 130, err
    assert "Traceback" not in err
    if out:
        found = json.loads(out)
        assert found["interrupted"] is True
        assert len(found["requirements"]) < 402


def test_the_version_and_the_help_load_nothing_heavy() -> None:
    script = (
        "import sys; from verifier.front.command import run; run(['--help']); "
        "print([m for m in ('z3', 'cvc5', 'networkx', 'rich', 'lark', 'astral') "
        "if m in sys.modules])"
    )
    result = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert result.stdout.rstrip().endswith("[]")


def test_what_was_kept_is_told_again_without_solvers_and_engines_in_this_process(
    tmp_path: Path,
) -> None:
    # The one certificate that is checked anew is checked in a process of its own.
    boathouse = str(ROOT / "specs" / "boathouse")
    script = (
        "import sys; from verifier.front.command import run; "
        f"run(['prove', {boathouse!r}, '--cache', {str(tmp_path)!r}, '--format', 'json']); "
        "loaded = ('z3', 'cvc5', 'importlib.metadata', 'verifier.proof.certificate', "
        "'verifier.proof.hull', 'verifier.proof.relation', 'verifier.proof.engines'); "
        "print(); print([m for m in loaded if m in sys.modules])"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert told[1].splitlines()[-1] == "[]"
    first, second = (
        [line for line in text.splitlines()[:-1] if '"seconds"' not in line] for text in told
    )
    assert second == first


def test_a_job_with_a_mistake_is_answered_without_a_solver(tmp_path: Path) -> None:
    (tmp_path / "a.dusk").write_text("lamp lamp lamp\n")
    script = (
        "import sys; from verifier.front.command import run; "
        f"code = run(['prove', {str(tmp_path)!r}]); "
        "print(code, [m for m in ('z3', 'cvc5', 'networkx', 'rich') if m in sys.modules])"
    )
    result = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert result.stdout.rstrip().endswith("2 []")


# ---------------------------------------------------------------- the other commands


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(capsys, "--version")[:2] == (0, f"duskproof {__version__}\n")


def test_the_graph_is_drawn_in_three_ways(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, text, _ = ran(capsys, "graph", str(job))
    assert code == 0
    assert "bay_lights on" in text
    assert ran(capsys, "graph", str(job), "--format", "dot")[1].startswith("digraph")
    assert "flowchart" in ran(capsys, "graph", str(job), "--format", "mermaid")[1]


def test_the_graph_of_a_wrong_job_is_a_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran(capsys, "graph", str(tmp_path))[0] == 2


def test_codes_are_listed_and_explained(capsys: pytest.CaptureFixture[str]) -> None:
    from verifier.diagnostics.codes import all_codes

    code, out, _ = ran(capsys, "codes")
    assert code == 0
    assert [line.split()[0] for line in out.splitlines()] == list(all_codes())
    code, out, _ = ran(capsys, "codes", "not-utf8")
    assert (code, out.startswith("not-utf8")) == (0, True)
    code, out, _ = ran(capsys, "codes", "not-utf9")
    assert (code, "Did you mean not-utf8" in out) == (2, True)


def test_every_code_of_the_front_has_a_page() -> None:
    import re

    from verifier.diagnostics.codes import all_codes

    told: set[str] = set()
    files = [*(ROOT / "verifier" / "front").glob("*.py"), ROOT / "verifier" / "pipeline.py"]
    for file in files:
        text = file.read_text(encoding="utf-8")
        told.update(re.findall(r'(?:_error|Diagnostic)\(\s*"([a-z0-9-]+)"', text))
        told.update(re.findall(r'"code": "([a-z0-9-]+)"', text))
    assert len(told) >= 12
    assert told - all_codes().keys() == set()
