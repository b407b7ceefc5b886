"""Kept cases and `duskproof replay`: what they say is compared with what the prover says."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.check import ROOT
from tests.explain.jobs import SPECS, job_of, sources_of
from tests.front.written import ALL, result
from tests.random_jobs import random_job
from verifier.front.case_files import NotACase, case_json, case_name, read_case
from verifier.front.command import run
from verifier.handover.regression import (
    Comes,
    DoesNotFailAgain,
    KeepsNow,
    KeptCase,
    NoLongerPossible,
    StillFails,
    kept_case,
    replayed,
    requirement_of,
)
from verifier.model.job import LeadsTo, MeasureLongest
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Proved, Refuted
from verifier.source import Sources

SCHEMA = json.loads((ROOT / "shared/schema/case.schema.json").read_text(encoding="utf-8"))
STAMP = ("0" * 64, "0.1.0")

YARD = """\
contact gate "Gate" starts shut
button push
lamp yard "Yard"
rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 1 min
    yard off
end rule
rule hand
  upon push pressed
  do
    yard off
end rule
require two "Two minutes of light"
  when gate becomes open: yard is on for at least 2 min
end require
"""


def kept(text: str, name: str) -> KeptCase:
    job = job_of(text)
    found = kept_case(
        job, sources_of(text), job.requirement[name], decide(job, job.requirement[name]), (), STAMP
    )
    assert isinstance(found, KeptCase)
    return found


def comes(text: str, case: KeptCase) -> Comes:
    job = job_of(text)
    requirement = requirement_of(job, case)
    if isinstance(requirement, NoLongerPossible):
        return requirement
    return replayed(job, sources_of(text), requirement, case)


def cases_of(name: str) -> list[KeptCase]:
    found = result(name)
    assert found.job is not None
    made = [kept_case(found.job, found.sources, r, v, (), STAMP) for r, v, _ in found.verdicts]
    assert not any(isinstance(one, DoesNotFailAgain) for one in made)
    return [one for one in made if isinstance(one, KeptCase)]


# ---------------------------------------------------------------- the same job


@pytest.mark.parametrize("name", ALL)
def test_on_the_same_rules_every_kept_case_fails_as_it_did(name: str, tmp_path: Path) -> None:
    found, cases = result(name), cases_of(name)
    assert found.job is not None
    failing = [r for r, v, _ in found.verdicts if isinstance(v, Refuted) and v.run is not None]
    assert [r.name for r in failing] == [case.requirement for case in cases]
    for case in cases:
        path = tmp_path / case_name(case)
        path.write_text(case_json(case), encoding="utf-8")
        again = read_case(path)
        assert again == case
        requirement = requirement_of(found.job, again)
        assert not isinstance(requirement, NoLongerPossible)
        assert replayed(found.job, found.sources, requirement, again) == StillFails(
            case.fails_s, case.fails_just_after, False, False
        )


@pytest.mark.parametrize("name", ALL)
def test_every_case_is_as_the_schema_says(name: str) -> None:
    jsonschema: Any = pytest.importorskip("jsonschema", reason="pip install jsonschema")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    check = jsonschema.Draft202012Validator(SCHEMA)
    for case in cases_of(name):
        whole = json.loads(case_json(case))
        assert [error.message for error in check.iter_errors(whole)] == []
        whole["fails"]["at_s"] = 60
        assert list(check.iter_errors(whole))


# ---------------------------------------------------------------- other rules, against the prover


@pytest.mark.parametrize("seed", range(60))
def test_a_case_never_fails_where_the_prover_proves(seed: int) -> None:
    """Rules are left out one at a time: what then fails on replay has to be refuted."""
    rng = Random(seed)
    job, requirement = random_job(rng)
    try:
        verdict = decide(job, requirement, Budget(limit_s=20))
    except EndlessChainFound:
        return
    case = kept_case(job, Sources(()), requirement, verdict, (), STAMP)
    if not isinstance(case, KeptCase):
        return
    for rule in job.rules:
        other = replace(
            job, rules=tuple(replace(r, triggers=()) if r is rule else r for r in job.rules)
        )
        try:
            now = decide(other, requirement, Budget(limit_s=20))
        except EndlessChainFound:
            continue
        came = replayed(other, Sources(()), requirement, case)
        if isinstance(now, Proved):
            assert not isinstance(came, StillFails), rule.name
        if isinstance(came, StillFails) and not isinstance(
            requirement.form, LeadsTo | MeasureLongest
        ):
            assert isinstance(now, Refuted), rule.name


@pytest.mark.parametrize("name", ["boathouse", "stair", "dock", "path"])
def test_on_the_job_that_proves_whole_no_case_of_its_first_draft_fails(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`tests/specs` proves these jobs; so no case may fail on them."""
    for case in cases_of(name):
        (tmp_path / case_name(case)).write_text(case_json(case), encoding="utf-8")
    code = run(["replay", str(SPECS / name), str(tmp_path), "--format", "json"])
    found = json.loads(capsys.readouterr().out)
    assert code == found["exit"]
    said = {one["requirement"]: one["comes"] for one in found["cases"]}
    assert "still fails" not in said.values()
    assert "keeps it now" in said.values()


# ---------------------------------------------------------------- what comes, by hand


def test_the_case_of_a_wait_is_kept_once_the_wait_is_long_enough() -> None:
    text = YARD.replace("button push\n", "")
    text = text[: text.index("rule hand")] + text[text.index("require two") :]
    case = kept(text, "two")
    assert comes(text, case) == StillFails(Fraction(60), False, False, False)
    assert isinstance(comes(text.replace("1 min", "2 min", 1), case), KeepsNow)


def test_a_failure_that_only_comes_later_is_told() -> None:
    """By hand: with 90 s of light it goes dark 30 s later than when the case was kept."""
    text = YARD.replace("button push\n", "")
    text = text[: text.index("rule hand")] + text[text.index("require two") :]
    case = kept(text, "two")
    assert case.until_s == 60
    assert comes(text.replace("1 min", "90 s", 1), case) == StillFails(
        Fraction(90), False, False, later=True
    )


ORDERS = """\
contact gate starts shut
lamp yard
rule a
  upon gate becomes open
  do
    yard on
end rule
rule b
  upon gate becomes open
  do
    yard off
end rule
require lit
  when gate becomes open: yard is on within 0 s
end require
"""


def test_a_case_that_fails_in_another_order_still_fails() -> None:
    """By hand: `a` then `b` leaves it dark; the rules changed places, so now `b` then `a` does."""
    case = kept(ORDERS, "lit")
    assert [one.text for one in case.order[0]] == ["upon gate becomes open"] * 2
    swapped = ORDERS.replace("yard on", "yard X").replace("yard off", "yard on")
    swapped = swapped.replace("yard X", "yard off")
    assert comes(swapped, case) == StillFails(Fraction(0), True, True, False)


def test_lines_with_the_same_text_are_told_apart_by_where_they_stand() -> None:
    """By hand: only one of two orders fails, and both rules have the same trigger."""
    swapped = ORDERS.replace("yard on", "yard X").replace("yard off", "yard on")
    for text in (ORDERS, swapped.replace("yard X", "yard off")):
        for moved in (text, "# a page\n# of remarks\n" + text):
            assert comes(moved, kept(text, "lit")) == StillFails(Fraction(0), True, False, False)


def test_a_case_on_a_date_is_played_in_its_own_years() -> None:
    """Kept cases grow old: the years of which a job is proved go on, the date of a case stays."""
    found = result("path")
    assert found.job is not None
    later = replace(found.job, years=(2090, 2091))
    for case in cases_of("path"):
        assert case.years == (2026, 2055)
        requirement = requirement_of(later, case)
        assert not isinstance(requirement, NoLongerPossible)
        came = replayed(later, found.sources, requirement, case)
        assert came == StillFails(case.fails_s, case.fails_just_after, False, False)


def test_the_order_of_a_case_is_found_again_where_lines_have_moved() -> None:
    text = YARD.replace("rule hand", "# a remark\n\n# another\nrule hand")
    moved = "# a page\n# of remarks\n\n" + text
    for one in (YARD, text, moved):
        assert comes(one, kept(YARD, "two")) == comes(YARD, kept(YARD, "two"))


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda text: text.replace("gate", "door"), "“gate becomes open”"),
        (lambda text: text.replace("starts shut", "starts open"), "gate does not begin as shut"),
        (lambda text: text.replace("require two", "require three"), "no requirement called two"),
        (
            lambda text: (
                text + "assume gate stays shut at least 5 min\nassume always gate is shut\n"
            ),
            "“gate becomes open”",
        ),
    ],
)
def test_what_is_no_longer_possible_says_why(change: Callable[[str], str], why: str) -> None:
    case = kept(YARD, "two")
    came = comes(change(YARD), case)
    assert isinstance(came, NoLongerPossible)
    assert why in came.why


def test_other_points_that_the_case_began_with_may_go() -> None:
    text = YARD + "contact cellar\nlamp cellar_light\n"
    case = kept(text, "two")
    assert comes(YARD, case) == comes(text, case)


# ---------------------------------------------------------------- files


def changed(**keys: Any) -> Callable[[dict[str, Any]], None]:
    return lambda whole: whole.update(keys)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (changed(kind="duskproof case, 2"), 'does not say "kind"'),
        (changed(occurs="none"), '"occurs" is no list'),
        (changed(occurs=[{"at_s": "1e9", "what": "x"}]), '"at_s" is no exact figure'),
        (changed(occurs=[{"at_s": "1/0", "what": "x"}]), '"at_s" is no exact figure'),
        (changed(occurs=[{"at_s": 0.5, "what": "x"}]), '"at_s" is no text'),
        (changed(occurs=[{"at_s": "5"}], until_s="9"), '"what" is no text'),
        (changed(until_s="-1"), "do not follow each other"),
        (changed(occurs=[{"at_s": "-1", "what": "x"}]), "do not follow each other"),
        (changed(start=[]), '"start" is no object'),
        (changed(start={"gate": 1}), '"gate" is no text'),
        (changed(asked="no"), "neither true nor false"),
        (changed(years=[2027]), "a first and a last year"),
        (changed(order=[{"what": "x", "because": [{"file": "", "text": ""}]}]), '"line" is no'),
        (changed(considered=[1]), "no list of texts"),
    ],
)
def test_a_damaged_case_is_refused_with_what_is_wrong(
    change: Callable[[dict[str, Any]], None], why: str, tmp_path: Path
) -> None:
    whole = json.loads(case_json(kept(YARD, "two")))
    change(whole)
    path = tmp_path / "a.case.json"
    path.write_text(json.dumps(whole), encoding="utf-8")
    with pytest.raises(NotACase) as wrong:
        read_case(path)
    assert why in wrong.value.args[0].message
    assert wrong.value.args[0].code == "not-a-case"


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"[]", b"{", b"[" * 100_000, b'{"kind": 1}'])
def test_what_is_no_case_at_all_is_refused(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.case.json"
    path.write_bytes(data)
    with pytest.raises(NotACase):
        read_case(path)


# ---------------------------------------------------------------- the command


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "rules.dusk").write_text(YARD, encoding="utf-8")
    return folder


def said(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str]:
    capsys.readouterr()
    code = run([str(one) for one in arguments])
    captured = capsys.readouterr()
    assert "Traceback" not in captured.out + captured.err
    return code, captured.out


def test_a_case_is_saved_once_and_replayed(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cases = tmp_path / "cases"
    for _ in range(2):
        assert said(capsys, "prove", yard, "--save-case", cases)[0] == 1
    (path,) = cases.iterdir()
    code, out = said(capsys, "replay", yard, path)
    assert code == 1
    assert out.startswith("still fails  two  ")
    assert "as it did" in out
    assert "The rules are those with which it was kept." in out
    (yard / "rules.dusk").write_text(
        YARD.replace("wait 1 min\n    yard off", "wait 1 min").replace(
            "    yard off\nend rule\nrequire", "    yard on\nend rule\nrequire"
        ),
        encoding="utf-8",
    )
    code, out = said(capsys, "replay", yard, cases)
    assert (code, out.split("\n")[0].startswith("keeps it now  two  ")) == (0, True)
    assert "1 case: 1 kept now." in out
    (yard / "rules.dusk").write_text(YARD.replace("gate", "door"), encoding="utf-8")
    code, out = said(capsys, "replay", yard, cases)
    assert (code, "no longer possible  two" in out) == (2, True)


def test_the_hash_of_the_rules_is_that_of_sha256sum(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (yard / "more.dusk").write_text("lamp cellar\n", encoding="utf-8")
    asked = ["--ask", "never: yard is on", "--consider", "power cuts"]
    said(capsys, "prove", yard, *asked, "--save-case", tmp_path / "cases")
    (path,) = (tmp_path / "cases").iterdir()
    listing = "".join(
        f"{hashlib.sha256(file.read_bytes()).hexdigest()}  {file.name}\n"
        for file in (yard / "more.dusk", yard / "rules.dusk")
    )
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert whole["rules_sha256"] == hashlib.sha256(listing.encode("utf-8")).hexdigest()
    assert "with which it was kept" in said(capsys, "replay", yard, path)[1]


def test_a_case_of_what_was_asked_and_considered_needs_neither_in_the_job(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = YARD[: YARD.index("rule hand")].replace("button push\n", "")
    (yard / "rules.dusk").write_text(text, encoding="utf-8")
    cases = tmp_path / "cases"
    asked = ["--ask", "when gate becomes open: yard is on for at least 1 min"]
    assert said(capsys, "prove", yard, *asked, "--save-case", cases)[0] == 0
    assert not cases.exists()
    code, _ = said(capsys, "prove", yard, *asked, "--consider", "power cuts", "--save-case", cases)
    assert code == 1
    (path,) = cases.iterdir()
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert (whole["asked"], whole["considered"]) == (True, ["power cuts"])
    assert said(capsys, "replay", yard, path)[0] == 1
    (yard / "rules.dusk").write_text(text + "consider power cuts\n", encoding="utf-8")
    assert said(capsys, "replay", yard, path)[0] == 1
    again = text.replace('lamp yard "Yard"', 'lamp yard "Yard" on power return on')
    (yard / "rules.dusk").write_text(again, encoding="utf-8")
    assert said(capsys, "replay", yard, path)[0] == 0
    (yard / "rules.dusk").write_text(text.replace("yard", "court"), encoding="utf-8")
    code, out = said(capsys, "replay", yard, path)
    assert (code, "cannot be asked of this job" in out) == (2, True)


def test_what_is_no_case_is_told_and_the_others_are_played(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cases = tmp_path / "cases"
    said(capsys, "prove", yard, "--save-case", cases)
    (cases / "b.case.json").write_text("{}", encoding="utf-8")
    code, out = said(capsys, "replay", yard, cases)
    assert code == 2
    assert "still fails" in out
    assert "[not-a-case]" in out
    code, out = said(capsys, "replay", yard, tmp_path / "nowhere")
    assert (code, "[no-cases]" in out) == (2, True)
    code, out = said(capsys, "replay", yard, yard)
    assert (code, "[no-cases]" in out) == (2, True)


def test_cases_that_cannot_be_written_are_an_error(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    code, out = said(capsys, "prove", yard, "--save-case", tmp_path / "file" / "cases")
    assert (code, "[file-not-written]" in out) == (2, True)


def test_replay_loads_no_solver(yard: Path, tmp_path: Path) -> None:
    run(["prove", str(yard), "--save-case", str(tmp_path / "cases")])
    script = (
        "import sys\nfrom verifier.front.command import run\n"
        f"code = run(['replay', {str(yard)!r}, {str(tmp_path / 'cases')!r}])\n"
        "print(code, sorted({'z3', 'cvc5'} & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stdout.rstrip().endswith("1 []")
