"""``duskproof try`` as people meet it."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from verifier.front.command import run
from verifier.front.folder import read_folder
from verifier.model.job import Job
from verifier.pipeline import Question, prove
from verifier.proof.verdict import Refuted
from verifier.simulate.run import Run
from verifier.simulate.script import parse_script, possible_words
from verifier.simulate.script_play import play
from verifier.source import SourceFile

ROOT = Path(__file__).parents[2]
JOB = """
button push "Push-button"
lamp light "Light" 10 W
rule glow
  retriggerable
  upon push pressed
  do
    light on
    wait 10 s
    light off
end rule
require lit
  when push pressed: light is on within 0 s
end require
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "job.dusk").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_the_boathouse_keeps_its_scripts(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["try", str(ROOT / "specs" / "boathouse")]) == 0
    said = capsys.readouterr().out
    assert "BROKEN" not in said
    assert "dusk.run" in said
    assert "bay_lights on" in said


def test_a_broken_expectation_is_exit_1(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\nat 11 s expect light is on\n", "utf-8")
    assert run(["try", str(folder)]) == 1
    said = capsys.readouterr().out
    assert "BROKEN  11 s: expect light is on  (a.run:2)" in said
    assert "1 expectation: 0 kept, 1 broken." in said


def test_one_script_may_be_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\nat 5 s expect light is on\n", "utf-8")
    (folder / "b.run").write_text("nonsense", "utf-8")
    assert run(["try", str(folder), str(folder / "a.run")]) == 0
    assert "b.run" not in capsys.readouterr().out


def test_a_bad_script_is_exit_2_with_its_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "a.run").write_text("at 0 s push pressd\n", "utf-8")
    assert run(["try", str(folder)]) == 2
    said = capsys.readouterr().out
    assert "a.run:1:8" in said
    assert "Did you mean `push pressed`" in said


def test_a_folder_without_scripts_is_exit_2(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["try", str(folder)]) == 2
    assert "no-scripts" in capsys.readouterr().out


def test_a_script_of_bytes_is_exit_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_bytes(b"at 0 s \xff\xfe")
    assert run(["try", str(folder)]) == 2
    assert "a.run:1" in capsys.readouterr().out
    assert run(["try", str(folder), str(folder / "missing.run")]) == 2


def said_of(
    folder: Path, capsys: pytest.CaptureFixture[str], script: str, *options: str
) -> tuple[int, str]:
    (folder / "a.run").write_text(script, "utf-8")
    code = run(["try", str(folder), "a.run", *options])
    caught = capsys.readouterr()
    assert "Traceback" not in caught.out + caught.err
    return code, caught.out


def test_the_timeline_says_when_what_and_because_of_which_line(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = said_of(folder, capsys, "at 2 s push pressed\nuntil 20 s\n")
    assert code == 0
    rows = [" ".join(line.split()) for line in said.split("\n")]
    assert "2 s push pressed light on, glow running job.dusk:6" in rows
    assert "12 s a wait of glow runs out light off, glow idle job.dusk:9" in rows
    assert "20 s the script ends" in rows
    assert "Nothing is expected in this script." in rows


def test_the_boathouse_keeps_its_scripts_in_every_order(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["try", str(ROOT / "specs" / "boathouse"), "--every-order"]) == 0
    assert "BROKEN" not in capsys.readouterr().out


def test_an_order_that_breaks_an_expectation_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = "at 0 s push pressed\nat 10 s push pressed\nat 15 s expect light is on\n"
    assert said_of(folder, capsys, script)[0] == 0
    job = folder / "job.dusk"
    job.write_text(JOB.replace("retriggerable", "non-retriggerable"), "utf-8")
    assert said_of(folder, capsys, script)[0] == 0
    code, said = said_of(folder, capsys, script, "--every-order")
    assert code == 1
    assert "BROKEN  15 s: expect light is on in some order  (a.run:3)" in said
    assert "The order matters: at 10 s light on or off; glow running or idle." in said


def test_what_goes_round_is_told_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "job.dusk").write_text(
        JOB.replace(
            "wait 10 s", "repeat\n wait 1 s\n light off\n wait 1 s\n light on\n until day\n"
        )
        .replace("until day\n", "until push_2 is on\n end repeat\n")
        .replace("lamp light", 'switch push_2 "Stop" starts off\nlamp light'),
        "utf-8",
    )
    code, said = said_of(folder, capsys, "at 0 s push pressed\nuntil 100 s\n")
    assert code == 0
    assert "these 2 again, 49 times" in said
    assert "… 1 min 40 s" in said
    assert len(said.split("\n")) < 12


def test_a_script_is_looked_for_in_the_folder_too(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "dawn.run").write_text("at 0 s push pressed\n", "utf-8")
    assert run(["try", str(folder), "dawn.run"]) == 0
    assert "dawn.run" in capsys.readouterr().out
    assert run(["try", str(folder), "dawm.run"]) == 2
    assert "Did you mean dawn.run?" in capsys.readouterr().out


def test_what_is_no_script_is_exit_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "large.txt").write_text("#" * (1024 * 1024 + 1), "utf-8")
    for name, words in (
        ("large.txt", "script-too-large"),
        ("job.dusk", "a part of the job"),
        (".", "not a file with text"),
        ("/dev/null", "not a file with text"),
        ("a\0b", "no-such-script"),
        ("x" * 300, "no-such-script"),
    ):
        assert run(["try", str(folder), name]) == 2, name
        caught = capsys.readouterr()
        assert words in caught.out, name
        assert "Traceback" not in caught.out + caught.err


def test_hidden_files_are_no_scripts(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / ".a.run").write_text("nonsense", "utf-8")
    assert run(["try", str(folder)]) == 2
    assert "no-scripts" in capsys.readouterr().out


def test_the_first_mistakes_of_many_are_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = said_of(folder, capsys, "nonsense\n" * 100)
    assert code == 2
    assert said.count("script-line") == 20
    assert "80 more mistakes in a.run." in said


def test_the_worst_of_several_scripts_is_the_exit_code(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\nat 0 s expect light is off\n", "utf-8")
    (folder / "b.run").write_text("at 0 s push pressed\n", "utf-8")
    assert run(["try", str(folder)]) == 1
    (folder / "c.run").write_text("at 0 s push\n", "utf-8")
    assert run(["try", str(folder)]) == 2
    assert "BROKEN" in capsys.readouterr().out


def test_a_job_that_is_wrong_is_exit_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.run").write_text("at 0 s push pressed\n", "utf-8")
    (folder / "job.dusk").write_text("lamp", "utf-8")
    assert run(["try", str(folder)]) == 2
    assert "job.dusk:1" in capsys.readouterr().out
    assert run(["try", str(folder / "nowhere")]) == 2


WORDS = [
    *("at", "after", "until", "starts", "expect", "0", "s", "5", "1", "min", "9", "ms", "-3"),
    *("22:30", "60", "%", "push", "pressed", "light", "is", "on", "off", "and", "not", "(", ")"),
    *('"', "#", ",", ".", "glow", "running", "has", "stayed", "for", "night", "begins", "day"),
    *("\x00", "é", "\u202e", "=", "'", "possible:", "becomes", "by", "hand", "while", "allowing"),
]


@given(
    st.lists(st.lists(st.sampled_from(WORDS), max_size=9).map(" ".join), max_size=6).map("\n".join)
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_script_however_odd_makes_the_tool_fail(folder: Path, text: str) -> None:
    (folder / "odd.run").write_text(text, "utf-8")
    assert run(["try", str(folder), "odd.run", "--every-order"]) in (0, 1, 2)


def test_no_solver_is_loaded_for_a_script() -> None:
    program = (
        "import sys; from verifier.front.command import run; "
        f"run(['try', {str(ROOT / 'specs' / 'boathouse')!r}]); "
        "print([m for m in ('z3', 'cvc5', 'networkx', 'rich') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.rstrip().endswith("[]")


def script_of(job: Job, found: Run) -> str:
    """A run as a script: what happened outside, and after each moment all that was seen."""
    inputs = {p.name for p in job.points if p.kind.is_input} - set(job.door_of_point)
    starting = {*inputs, *job.door, *job.room}
    outside, values = set(possible_words(job)), dict(found.start)
    lines = [
        f"starts {value}" if subject == "sun" else f"starts {subject} {value}"
        for subject, value in found.start
        if subject in starting or subject == "sun"
    ]
    for number, step in enumerate(found.steps):
        time = f"{step.at_s * 1000} ms"
        assert (step.at_s * 1000).denominator == 1
        if step.what in outside:
            lines.append(f"at {time} {step.what}")
        values.update(step.changes)
        if [later.at_s for later in found.steps[number + 1 :]][:1] != [step.at_s]:
            seen = [
                value if subject == "sun" else f"{subject} is {value}"
                for subject, value in values.items()
                if subject not in job.rule
            ]
            lines.append(f"at {time} expect {' and '.join(seen)}")
    return "\n".join(lines)


@pytest.mark.parametrize("name", ["boathouse-first-draft", "washroom"])
def test_the_failing_runs_of_a_job_play_as_scripts_with_all_that_was_seen(name: str) -> None:
    """Outside: the prover's runs, found by engines that know nothing of scripts."""
    reading = read_folder(str(ROOT / "specs" / name))
    result = prove(reading.sources, name, Question((), (), Fraction(60), 2), lambda *_: None)
    assert result.job is not None
    runs = [v.run for _, v, _ in result.verdicts if isinstance(v, Refuted) and v.run is not None]
    assert len(runs) > 1
    for found in runs:
        text = script_of(result.job, found)
        script, mistakes = parse_script(SourceFile("a.run", text), result.job)
        assert script is not None, mistakes
        played = play(result.job, script, every_order=True)
        assert played.expected
        assert all(expected.ever for expected in played.expected), text
