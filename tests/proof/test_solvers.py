"""Both solvers on texts whose answer is known from outside.

Answers: by hand for the small ones. ``pigeons`` is the pigeonhole principle, unsatisfiable for
one pigeon more than holes, and without short resolution proofs (A. Haken, The intractability of
resolution, Theoretical Computer Science 39, 1985), so no solver of this kind is soon done with it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from importlib import metadata
from pathlib import Path

import pytest

from verifier.proof.solvers import (
    Answer,
    check_all_with_z3,
    check_with_cvc5,
    check_with_z3,
    solver_versions,
)

HEAD = "(set-logic QF_LRA)\n(declare-const a Bool)\n(declare-const |x'| Real)\n"

EACH = pytest.mark.parametrize("check", [check_with_z3, check_with_cvc5])
Check = Callable[[str, float], Answer]


def pigeons(holes: int) -> str:
    """One pigeon more than there are holes, each in a hole, no two in one."""
    names = [[f"p{i}in{j}" for j in range(holes)] for i in range(holes + 1)]
    lines = ["(set-logic QF_LRA)"]
    lines += [f"(declare-const {name} Bool)" for row in names for name in row]
    lines += [f"(assert (or {' '.join(row)}))" for row in names]
    lines += [
        f"(assert (not (and {names[i][j]} {names[k][j]})))"
        for j in range(holes)
        for i in range(holes + 1)
        for k in range(i)
    ]
    return "\n".join([*lines, "(check-sat)\n"])


@EACH
@pytest.mark.parametrize(
    ("asserted", "answer"),
    [
        ("", Answer.SAT),
        ("(assert a)", Answer.SAT),
        ("(assert (and a (not a)))", Answer.UNSAT),
        ("(assert (< |x'| 1.5)) (assert (> |x'| 1.25))", Answer.SAT),
        ("(assert (< |x'| 1.5)) (assert (>= |x'| 1.5))", Answer.UNSAT),
        ("(assert (= (* 3.0 |x'|) (+ |x'| 1.0)))", Answer.SAT),  # x = 1/2
        ("(assert (=> a (> |x'| 1.0))) (assert a) (assert (<= |x'| (- 1.0)))", Answer.UNSAT),
    ],
)
def test_a_text_is_answered_as_it_is_meant(check: Check, asserted: str, answer: Answer) -> None:
    assert check(f"{HEAD}{asserted}\n(check-sat)\n", 10) is answer


@EACH
def test_few_pigeons_are_unsatisfiable(check: Check) -> None:
    assert check(pigeons(4), 10) is Answer.UNSAT


@EACH
@pytest.mark.parametrize(
    "text",
    [
        "",
        "the lamp is on",
        "((((",
        HEAD + "(assert (or a nobody)) (check-sat)",
        HEAD + "(assert (or a a) (check-sat)",
        HEAD + "(assert false)) (check-sat)",
        HEAD + "(assert (and)) (check-sat)",
        HEAD + "(assert (= (* |x'| |x'|) 2.0)) (check-sat)",
        HEAD + "(assert x') (check-sat)",
        HEAD + "(assert |\ud800|) (check-sat)",
    ],
)
def test_a_text_that_cannot_be_read_is_broken(check: Check, text: str) -> None:
    assert check(text, 10) is Answer.BROKEN


@EACH
@pytest.mark.parametrize(
    "text",
    [
        HEAD + "(assert false)",
        HEAD + "(check-sat) (assert false)",
        HEAD + "(check-sat) (assert false) (check-sat)",
        HEAD + "(assert false) (check-sat) (exit)",
        HEAD + "(check-sat)\0(assert false) (check-sat)",
        HEAD + '(echo "unsat")',
    ],
)
def test_a_text_that_does_not_ask_once_at_its_end_is_broken(check: Check, text: str) -> None:
    assert check(text, 10) is Answer.BROKEN


@EACH
def test_a_solver_that_overruns_gives_up_and_says_unknown(check: Check) -> None:
    began = time.monotonic()
    assert check(pigeons(14), 0.3) is Answer.UNKNOWN
    assert time.monotonic() - began < 5


@EACH
def test_no_time_at_all_still_gives_an_answer(check: Check) -> None:
    assert check(pigeons(12), 0.0) is Answer.UNKNOWN
    assert check(f"{HEAD}(assert a)\n(check-sat)\n", 10) is Answer.SAT


def test_texts_of_one_batch_do_not_reach_each_other() -> None:
    contradiction = f"{HEAD}(assert (and a (not a)))\n(check-sat)\n"
    another = "(set-logic QF_LRA)\n(declare-const a Real)\n(assert (> a 1.0))\n(check-sat)\n"
    batch = (contradiction, "nonsense", another, contradiction)
    expected = (Answer.UNSAT, Answer.BROKEN, Answer.SAT, Answer.UNSAT)
    assert check_all_with_z3(batch, 10) == expected


def test_the_versions_are_those_of_the_solvers_themselves() -> None:
    import cvc5
    import z3

    versions = dict(solver_versions())
    assert list(versions) == ["z3", "cvc5"]
    assert z3.get_version_string().startswith(".".join(versions["z3"].split(".")[:3]))
    assert versions["cvc5"] in str(cvc5.Solver(cvc5.TermManager()).getVersion())


@EACH
def test_nothing_of_a_text_stays_for_the_next(check: Check) -> None:
    """The texts of a process share z3's context: an assertion or a declaration must not."""
    assert check(f"{HEAD}(assert (and a (not a)))\n(check-sat)\n", 10) is Answer.UNSAT
    assert check(f"{HEAD}(assert a)\n(check-sat)\n", 10) is Answer.SAT
    assert check("(set-logic QF_LRA)\n(assert a)\n(check-sat)\n", 10) is Answer.BROKEN
    other = "(set-logic QF_LRA)\n(declare-const a Real)\n(assert (> a 1.0))\n(check-sat)\n"
    assert check(other, 10) is Answer.SAT


def test_versions_are_those_that_the_standard_library_tells() -> None:
    told = (("z3", metadata.version("z3-solver")), ("cvc5", metadata.version("cvc5")))
    assert solver_versions() == told


def test_what_lies_first_on_the_path_counts_and_what_is_not_plain_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def folder(name: str, version: str) -> str:
        info = tmp_path / name / f"cvc5-{version}.dist-info"
        info.mkdir(parents=True)
        text = f"Metadata-Version: 2.1\nName: cvc5\nVersion: {version}\n"
        (info / "METADATA").write_text(text, encoding="utf-8")
        return str(tmp_path / name)

    first, second = folder("first", "9.1"), folder("second", "9.2")
    monkeypatch.setattr(sys, "path", [str(tmp_path / "none"), first, second, *sys.path])
    assert dict(solver_versions())["cvc5"] == "9.1" == metadata.version("cvc5")
    # An installer that was broken off leaves two: which one counts is not guessed at.
    folder("first", "9.3")
    assert dict(solver_versions())["cvc5"] == metadata.version("cvc5")
    # An installation of another kind.
    other = tmp_path / "other"
    (other / "cvc5-9.4.egg-info").mkdir(parents=True)
    text = "Metadata-Version: 2.1\nName: cvc5\nVersion: 9.4\n"
    (other / "cvc5-9.4.egg-info" / "PKG-INFO").write_text(text, encoding="utf-8")
    monkeypatch.setattr(sys, "path", [str(other), *sys.path])
    assert dict(solver_versions())["cvc5"] == metadata.version("cvc5")
