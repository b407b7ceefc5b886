"""``duskproof check-certificate``: what it accepts, what it refuses, and that no engine is loaded.

The rules are the check: a certificate of other rules, of other lemmas or with another text in it
must be refused, whatever was changed.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.meaning.test_by_hand import LIT
from tests.proof.test_left_out import OPENS, OPENS_NEVER
from verifier.front.command import run

JOB = f"""{LIT}require off_again "Off 30 s after the last press"
  after last push pressed: light is off within 30 s
end require
require lit_at_all
  every trigger of lit leads to light is off
end require
"""

Change = Callable[[dict[str, Any], Path], None]


@pytest.fixture(scope="module")
def proved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the job in `job`, and its certificates in `certificates`."""
    folder = tmp_path_factory.mktemp("proved")
    (folder / "job").mkdir()
    (folder / "job" / "lit.dusk").write_text(JOB, encoding="utf-8")
    asked = ["--ask", "measure longest: light is on after last push pressed"]
    arguments = ["prove", str(folder / "job"), "--certificates", str(folder / "certificates")]
    assert run([*arguments, *asked, "--only", "off_again", "--only", "lit_at_all"]) == 0
    return folder


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    capsys.readouterr()
    code = run(["check-certificate", *arguments])
    captured = capsys.readouterr()
    assert "Traceback" not in captured.out + captured.err
    return code, captured.out + captured.err


def test_every_certificate_is_accepted_as_it_stands(
    proved: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = said(capsys, str(proved / "certificates"))
    assert (code, out.count("accepted")) == (0, 3)


def test_every_certificate_is_accepted_when_made_anew_from_its_rules(
    proved: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out = said(capsys, str(proved / "certificates"), "--rules", str(proved / "job"))
    assert (code, out.count("made anew from the rules")) == (0, 3)


def test_a_single_text_is_solved(proved: Path, capsys: pytest.CaptureFixture[str]) -> None:
    texts = sorted((proved / "certificates").rglob("*.smt2"))
    code, out = said(capsys, *(str(path) for path in texts))
    assert (code, out.count("accepted")) == (0, len(texts))


@pytest.mark.parametrize("shorter", ["29 s", "30 s\n    light on\n    wait 1 ms"])
def test_the_certificate_of_other_rules_is_refused(
    proved: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], shorter: str
) -> None:
    """With the wait shorter the lemmas are of other states; with more in the body of others too."""
    (tmp_path / "lit.dusk").write_text(JOB.replace("wait 30 s", f"wait {shorter}"), "utf-8")
    given = proved / "certificates" / "job" / "off_again"
    code, out = said(capsys, str(given), "--rules", str(tmp_path))
    assert code == 1
    assert "not one of these rules" in out


def test_a_requirement_that_reads_otherwise_now_is_refused(
    proved: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "lit.dusk").write_text(JOB.replace("within 30 s", "within 31 s"), "utf-8")
    given = proved / "certificates" / "job" / "off_again"
    code, out = said(capsys, str(given), "--rules", str(tmp_path))
    assert code == 1
    assert "now reads: after last push pressed: light is off within 31 s" in out


def without_lemmas(data: dict[str, Any], _: Path) -> None:
    data["lemmas"] = []


def with_a_lemma_that_ends_its_line(data: dict[str, Any], _: Path) -> None:
    data["lemmas"] = ["true)) (assert false) (assert (and true (not false"]


def with_a_lemma_that_is_never_true(data: dict[str, Any], _: Path) -> None:
    data["lemmas"] = ["false"]


def with_a_lemma_of_the_state_before(data: dict[str, Any], _: Path) -> None:
    """Without its bars the name would be that of the state before, also where it must not."""
    data["lemmas"] = ["(and light (not light))"]


def without_a_text(data: dict[str, Any], _: Path) -> None:
    del data["texts"][1]


def with_a_text_turned_round(data: dict[str, Any], folder: Path) -> None:
    path = folder / data["texts"][3]["file"]
    path.write_text("(set-logic QF_LRA)\n(assert true)\n(check-sat)\n", "utf-8")


def with_a_command_more(data: dict[str, Any], folder: Path) -> None:
    path = folder / data["texts"][3]["file"]
    path.write_text("(set-option :timeout 1)\n(assert false)\n(check-sat)\n", "utf-8")


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (without_lemmas, "not one of these rules: z3 answers SAT"),
        (with_a_lemma_that_ends_its_line, "brackets do not match"),
        (with_a_lemma_that_is_never_true, "“initial”"),
        (with_a_lemma_of_the_state_before, "it holds “light”"),
        (without_a_text, "lacks the text of “kept”"),
        (with_a_text_turned_round, "z3 answers SAT on the condition “implies”"),
        (with_a_command_more, "holds the command set-option"),
    ],
)
def test_a_tampered_certificate_is_refused(
    proved: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: Change,
    reason: str,
) -> None:
    honest = proved / "certificates" / "job" / "off_again"
    for path in honest.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    whole = tmp_path / "certificate.json"
    data = json.loads(whole.read_text("utf-8"))
    change(data, tmp_path)
    whole.write_text(json.dumps(data), "utf-8")
    code, out = said(capsys, str(tmp_path), "--rules", str(proved / "job"))
    assert code == 1
    assert "accepted" not in out
    assert reason in out


def test_what_is_left_out_is_made_anew_as_well(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The certificate leaves states out; with a gate that may stay open for longer it may not."""
    job, other, target = tmp_path / "job", tmp_path / "other", tmp_path / "certificates"
    for folder, text in ((job, OPENS_NEVER), (other, OPENS)):
        folder.mkdir()
        (folder / "job.dusk").write_text(text, "utf-8")
    assert run(["prove", str(job), "--certificates", str(target)]) == 0
    code, out = said(capsys, str(target), "--rules", str(job))
    assert (code, "15 texts made anew" in out) == (0, True)
    code, out = said(capsys, str(target), "--rules", str(other))
    assert (code, "not one of these rules" in out) == (1, True)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"{", "not-a-certificate"),
        (b"[]", "not-a-certificate"),
        (b"{}", "not-a-certificate"),
        (b'{"kind": "shopping list"}', "not-a-certificate"),
        (b"\xff\xfe", "file-not-readable"),
        (b"[" * 100_000, "not-a-certificate"),
        (
            b'{"kind": "duskproof certificate, 1", "requirement": "a", "demand": "b", "lemmas": [],'
            b' "claim": null, "alive": "one step", "left_out": [],'
            b' "texts": [{"condition": "kept", "file": "../other.smt2"}]}',
            "not-a-certificate",
        ),
    ],
)
def test_what_is_no_certificate_is_wrong_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, code: str
) -> None:
    path = tmp_path / "certificate.json"
    path.write_bytes(content)
    exit_code, out = said(capsys, str(path))
    assert exit_code == 2
    assert f"[{code}]" in out
    assert "do: " in out


@pytest.mark.parametrize("given", ["no/such/file", ".", "a\0b"])
def test_what_is_not_there_is_wrong_input(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    given: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out = said(capsys, given)
    assert code == 2
    assert "do: " in out


def test_no_engine_is_loaded(proved: Path) -> None:
    engines = [
        "hull",
        "exact",
        "zones",
        "moves",
        "bounded",
        "mining",
        "lemmas",
        "spacer",
        "engines",
    ]
    text = (
        "import sys\n"
        "from verifier.front.command import run\n"
        f"code = run(['check-certificate', {str(proved / 'certificates')!r},"
        f" '--rules', {str(proved / 'job')!r}])\n"
        f"loaded = [m for m in {engines!r} if 'verifier.proof.' + m in sys.modules]\n"
        "print(code, loaded)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", text], capture_output=True, text=True, check=True, timeout=120
    )
    assert ended.stdout.splitlines()[-1] == "0 []"
