"""Bytes, texts and edits of good jobs: diagnostics only, and never a traceback.

The long runs are ``python -m tests.fuzz.long`` (edits) and ``python -m tests.fuzz.guided``
(atheris, guided by coverage); what they ran and found is in tests/README.md.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz.edits import ODD, edited, good_texts, words
from tests.fuzz.looked_at import look_at
from verifier.front.command import run
from verifier.front.folder import decoded


@pytest.mark.parametrize("seed", range(150))
def test_an_edited_job_is_answered_or_told_what_is_wrong(seed: int) -> None:
    look_at(edited(Random(seed)))


@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    look_at(text)


@given(st.lists(st.one_of(st.sampled_from(words()), st.sampled_from(ODD), st.just("\n"))))
@settings(max_examples=60)
def test_any_heap_of_words_is_answered(tokens: list[str]) -> None:
    look_at(" ".join(tokens))


@given(st.binary(max_size=400))
def test_any_bytes_are_decoded_or_told_where_they_go_wrong(data: bytes) -> None:
    file, problem = decoded(data, "a.dusk")
    if problem is None:
        look_at(file.text)
    else:
        assert problem.hint
        assert problem.labels[0].span.end <= len(file.text)


def test_the_good_jobs_are_good() -> None:
    assert sum(look_at(text) == "job" for text in good_texts()) > 60


@pytest.mark.parametrize("odd", ODD)
def test_odd_signs_in_labels_and_names_reach_no_terminal(
    odd: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the text, in JSON and in the drawings they stand as escapes, or the text is turned away."""
    text = (
        f'button push "Push {odd} button"\nlamp light "Li{odd}ght" 10 W\n'
        f'rule lit "A {odd}"\n  retriggerable\n  upon push pressed\n  do\n    light on\nend rule\n'
        f'require r "Never {odd}"\n  never: light is on\nend require\n'
    )
    (tmp_path / "a.dusk").write_bytes(text.encode("utf-8", "surrogatepass"))
    for arguments in (
        ["prove", str(tmp_path)],
        ["prove", str(tmp_path), "--format", "json"],
        ["graph", str(tmp_path)],
        ["graph", str(tmp_path), "--format", "dot"],
        ["graph", str(tmp_path), "--format", "mermaid"],
    ):
        assert run(arguments) in (0, 1, 2)
        captured = capsys.readouterr()
        for sign in "\x00\x1b\u202e\u2066\x85\u2028":
            assert sign not in captured.out + captured.err
        assert "Traceback" not in captured.out + captured.err
        if arguments[-1] == "mermaid":
            assert "<script" not in captured.out


# ---------------------------------------------------------------- large and deep


def test_a_hundred_thousand_lines_are_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [f'lamp l{k} "Lamp {k}" 10 W' for k in range(2_000)]
    lines += ["# nothing"] * 98_000
    lines += ["require r", "  never: l0 is on and l1 is on", "end require"]
    (tmp_path / "a.dusk").write_text("\n".join(lines), encoding="utf-8")
    assert run(["prove", str(tmp_path)]) in (0, 2)
    assert "Traceback" not in capsys.readouterr().out


@pytest.mark.parametrize(
    "inner",
    [
        "(" * 3_000 + "light is on" + ")" * 3_000,
        "not " * 3_000 + "(light is on)",
        " and ".join(["light is on"] * 3_000),
    ],
)
def test_deep_and_long_conditions_are_answered(
    inner: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = f'lamp light "Light" 10 W\nrequire r\n  never: {inner}\nend require\n'
    (tmp_path / "a.dusk").write_text(text, encoding="utf-8")
    assert run(["prove", str(tmp_path)]) in (0, 1, 2)
    captured = capsys.readouterr()
    assert "Traceback" not in captured.out + captured.err


def test_deep_branches_are_answered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    deep = 400
    body = "".join("  " * k + "if light is on\n" for k in range(deep))
    body += "light off\n" + "end if\n" * deep
    text = (
        'button push "Push"\nlamp light "Light" 10 W\n'
        f"rule lit\n  retriggerable\n  upon push pressed\n  do\n{body}end rule\n"
        "require r\n  never: light is on\nend require\n"
    )
    (tmp_path / "a.dusk").write_text(text, encoding="utf-8")
    assert run(["prove", str(tmp_path)]) in (0, 1, 2, 3)
    captured = capsys.readouterr()
    assert "Traceback" not in captured.out + captured.err
