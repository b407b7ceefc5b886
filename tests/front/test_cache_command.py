"""``prove`` with a cache, ``duskproof cache``, and what is told of the work on a terminal."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from tests.proof.test_cache import JOB
from verifier.front.command import run
from verifier.front.progress import Judging, progress
from verifier.proof.cache import FILE


@pytest.fixture(autouse=True)
def key_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platformdirs.user_state_path", lambda *_, **__: tmp_path / "state")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: tmp_path / "usual")


@pytest.fixture
def job(tmp_path: Path) -> str:
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.dusk").write_text(JOB, encoding="utf-8")
    return str(folder)


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = run(list(words))
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err
    return code, told.out, told.err


def test_with_and_without_a_cache_the_same_is_said(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = str(tmp_path / "kept")
    without = said(capsys, "prove", job, "--no-cache")
    assert without[0] == 1
    assert without[2] == ""
    first = said(capsys, "prove", job, "--cache", place)
    second = said(capsys, "prove", job, "--cache", place)
    third = said(capsys, "prove", job, "--cache", place, "--recheck")
    assert first == second == third == without


def test_the_cache_is_shown_and_cleared(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = str(tmp_path / "kept")
    assert "nothing is kept there" in said(capsys, "cache", "--cache", place)[1]
    said(capsys, "prove", job, "--cache", place)
    shown = said(capsys, "cache", "--cache", place)[1]
    assert "5 verdicts on requirements" in shown
    assert "the oldest from 20" in shown
    assert "answers forgotten" in said(capsys, "cache", "--cache", place, "--clear")[1]
    assert "nothing is kept there" in said(capsys, "cache", "--cache", place)[1]


def test_the_environment_says_where(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DUSKPROOF_CACHE", "off")
    said(capsys, "prove", job)
    assert not (tmp_path / "usual").exists()
    assert "DUSKPROOF_CACHE is off" in said(capsys, "cache")[1]
    monkeypatch.setenv("DUSKPROOF_CACHE", str(tmp_path / "mine"))
    said(capsys, "prove", job)
    assert (tmp_path / "mine" / FILE).exists()
    monkeypatch.delenv("DUSKPROOF_CACHE")
    said(capsys, "prove", job, "--no-cache")
    assert not (tmp_path / "usual").exists()
    said(capsys, "prove", job)
    assert (tmp_path / "usual" / FILE).exists()


def test_trouble_with_the_cache_is_a_warning_and_changes_nothing(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    without = said(capsys, "prove", job, "--no-cache")
    damaged = tmp_path / "damaged"
    damaged.mkdir()
    (damaged / FILE).write_bytes(b"\x00garbage" * 999)
    taken = tmp_path / "taken"
    taken.write_text("a file", encoding="utf-8")
    below = taken / "below"
    for place, words in ((damaged, "was damaged"), (below, "work went on without it")):
        code, out, err = said(capsys, "prove", job, "--cache", str(place))
        assert (code, out) == without[:2]
        assert err.startswith("warning: ")
        assert words in err


def test_a_folder_that_is_a_file_is_wrong_input(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "taken"
    place.write_text("a file", encoding="utf-8")
    code, _, err = said(capsys, "prove", job, "--cache", str(place))
    assert code == 2
    assert "is a file" in err


def test_the_same_of_a_typical_is_told_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["typical room", "  detector pir", "  lamp light 10 W", "  rule walk"]
    lines += ["    retriggerable", "    upon pir becomes occupied", "    do", "      light on"]
    lines += ["      wait 1 min", "      light off", "  end rule", "  require off"]
    lines += ["    after last pir becomes occupied: light is off within 1 min", "  end require"]
    lines += ["end typical", "apply room to a, b, c, d", ""]
    (tmp_path / "job.dusk").write_text("\n".join(lines), encoding="utf-8")
    code, out, _ = said(capsys, "prove", str(tmp_path), "--no-cache")
    assert code == 0
    assert out.count("[timed-from-occupied]") == 1
    assert "alike: 3 more of the same lines, from b.light to d.light" in out
    assert "4 requirements: 4 proved. 4 notes." in out
    for name in "abcd":
        assert f"{name}.off" in out


# ---------------------------------------------------------------- progress


def test_progress_counts_what_is_left() -> None:
    shown: list[str] = []
    judging = Judging(shown.append)
    judging.begin("a")
    judging.update(0, 8000, 161)
    judging.update(7999, 8000, 1)
    judging.update(1, 1, 0)
    assert shown == [
        "a: reading the job …",
        "a: 0 of 8,000 verdicts, 161 questions still open",
        "a: 7,999 of 8,000 verdicts, 1 question still open",
        "a: 1 of 1 verdict, checking the rest",
    ]


def test_nothing_is_told_where_there_is_no_terminal() -> None:
    stream = io.StringIO()
    with progress(stream) as judging:
        judging.begin("a")
        judging.update(1, 2, 1)
    assert stream.getvalue() == ""
