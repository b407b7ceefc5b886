"""`prove --output`: several at once, where they go, and what cannot be."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from verifier.front.command import run
from verifier.front.outputs import outputs_of

JOB = """\
contact gate "Gate" starts shut
lamp yard "Yard" 80 W
rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 1 min
    yard off
end rule
require lit
  always: gate is open implies yard is on
end require
require minute
  when gate becomes open: yard is on for at least 1 min
end require
require can
  possible: yard is on
end require
"""


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "rules.dusk").write_text(JOB, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    return folder


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    capsys.readouterr()
    code = run(["prove", *arguments])
    captured = capsys.readouterr()
    assert "Traceback" not in captured.out + captured.err
    return code, captured.out


def files(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_several_outputs_of_one_call_and_the_text_as_ever(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = said(capsys, "yard")
    wanted = [f"{form}:out/a.{form}" for form in ("text", "json", "sarif", "junit")]
    wanted += [f"{form}:out/runs/" for form in ("vcd", "trace", "itf")]
    arguments = [word for one in wanted for word in ("--output", one)]
    assert said(capsys, "yard", *arguments) == plain
    runs = [f"{n}{end}" for n in ("can", "lit") for end in (".itf.json", ".trace.json", ".vcd")]
    assert files(tmp_path / "out") == sorted(
        ["a.json", "a.junit", "a.sarif", "a.text", *(os.path.join("runs", one) for one in runs)]
    )
    assert (tmp_path / "out/a.text").read_text(encoding="utf-8") == plain[1]
    found = json.loads((tmp_path / "out/a.json").read_text(encoding="utf-8"))
    assert [r["verdict"] for r in found["requirements"]] == ["refuted", "proved", "proved"]


def test_an_output_to_standard_output_takes_the_place_of_the_text(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = said(capsys, "yard", "--output", "sarif:-")
    assert (code, json.loads(out)["version"]) == (1, "2.1.0")
    code, out = said(capsys, "yard", "--only", "lit", "--output", "trace:-")
    assert (code, json.loads(out)["requirement"]["name"]) == (1, "lit")
    code, out = said(capsys, "yard", "--only", "minute", "--output", "trace:-")
    assert (code, out) == (0, "")


def test_a_path_of_runs_that_is_no_folder_takes_the_requirements_names(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said(capsys, "yard", "--output", "vcd:o/run.vcd", "--output", "itf:o/run.itf.json")
    assert files(tmp_path / "o") == [
        "run-can.itf.json",
        "run-can.vcd",
        "run-lit.itf.json",
        "run-lit.vcd",
    ]
    said(capsys, "yard", "--only", "lit", "--output", "vcd:one/run.vcd")
    assert files(tmp_path / "one") == ["run.vcd"]


def test_runs_of_several_jobs_have_folders_of_their_own(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other" / "yard"
    other.mkdir(parents=True)
    (other / "rules.dusk").write_text(JOB, encoding="utf-8")
    said(capsys, "yard", "other/yard", "--output", "vcd:o", "--output", "itf:p/a.json")
    assert files(tmp_path / "o") == sorted(
        os.path.join(name, one) for name in ("yard", "yard-2") for one in ("can.vcd", "lit.vcd")
    )
    names = ["a-yard-2-can", "a-yard-2-lit", "a-yard-can", "a-yard-lit"]
    assert files(tmp_path / "p") == [f"{name}.json" for name in names]


def test_a_job_with_errors_has_its_outputs_too(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job / "more.dusk").write_text("lamp yard\n", encoding="utf-8")
    code, _ = said(capsys, "yard", "--output", "sarif:a.sarif", "--output", "junit:a.xml")
    assert code == 2
    log = json.loads((tmp_path / "a.sarif").read_text(encoding="utf-8"))
    assert [r["level"] for r in log["runs"][0]["results"]] == ["error"]
    assert 'errors="1"' in (tmp_path / "a.xml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--output", "pdf:a.pdf"], "unknown-output", '"pdf:a.pdf" names no format'),
        (["--output", "sariff:a"], "unknown-output", "Did you mean sarif?"),
        (["--output", "json"], "unknown-output", "does not say where it goes"),
        (["--output", "json:"], "unknown-output", "does not say where it goes"),
        (["--output", "vcd:-"], "outputs-clash", "cannot all go to standard output"),
        (["--output", "json:-", "--output", "sarif:-"], "outputs-clash", "would both be printed"),
        (["--output", "json:-", "--format", "text"], "outputs-clash", "would both be printed"),
        (["--output", "json:a", "--output", "sarif:./a"], "outputs-clash", "each other"),
        (["--output", "json:a", "--output", "vcd:a/"], "outputs-clash", "each other"),
        (["--output", "vcd:a/", "--output", "vcd:a"], "outputs-clash", "each other"),
        (["--output", "json:a/b", "--output", "sarif:a"], "outputs-clash", "each other"),
        (["--output", "text:yard/rules.dusk"], "outputs-clash", "a file of the job"),
        (["--output", "json:yard"], "file-not-written", "it is a folder"),
        (["--output", "json:yard/rules.dusk/a"], "file-not-written", "is a file"),
        (["--output", "vcd:yard/rules.dusk/"], "file-not-written", "a folder is wanted"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_judged(
    job: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: str, words: str
) -> None:
    exit_code, out = said(capsys, "yard", *arguments)
    assert exit_code == 2
    assert f"[{code}]" in out
    assert words in " ".join(out.split())
    assert "REFUTED" not in out
    assert (job / "rules.dusk").read_text(encoding="utf-8") == JOB


def test_formats_of_runs_may_share_a_folder() -> None:
    found, problems = outputs_of(
        ("vcd:a/", "itf:a/", "trace:a"), one_asked=False, prints=True, folders=("yard",)
    )
    assert ([o.form for o in found], problems) == (["vcd", "itf", "trace"], ())


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_to_is_told_before(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "shut").mkdir(mode=0o500)
    code, out = said(capsys, "yard", "--output", "json:shut/a.json")
    assert (code, "may not be written to" in out) == (2, True)


def test_what_goes_wrong_while_writing_is_an_error_and_the_others_are_written(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from verifier.front import outputs, written

    def full(path: Path, data: bytes) -> None:
        if path.suffix == ".sarif":
            raise written.NotWritten(outputs._not_written(str(path), "no space left on device"))
        path.write_bytes(data)

    monkeypatch.setattr(outputs, "write_whole", full)
    code, out = said(capsys, "yard", "--output", "sarif:a.sarif", "--output", "json:a.json")
    assert (code, "no space left on device" in out) == (2, True)
    assert "REFUTED" in out
    assert (tmp_path / "a.json").exists()


@pytest.mark.skipif(os.name != "posix", reason="devices have paths there")
def test_a_device_is_written_to_and_not_replaced(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _ = said(capsys, "yard", "--output", "json:/dev/null")
    assert code == 1
    assert not Path("/dev/null").is_file()
