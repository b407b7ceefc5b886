"""Evidence that was tampered with, and faults seeded into the relation: each must be caught.

The table of what catches which fault is printed by ``pytest -s -k caught_by`` and stands in
``tests/README.md``.
"""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from tests.proof.test_driver import differences
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job, Requirement
from verifier.proof import ProofOptions, ToolFault, checker, engines, prove_job
from verifier.proof import decide as deciding
from verifier.proof.certificate import texts_of
from verifier.proof.checker import check_certificate
from verifier.proof.closed import EvidenceFailed
from verifier.proof.decide import decide
from verifier.proof.engines import Breaks, Holds, holds_or_breaks
from verifier.proof.evidence import run_of
from verifier.proof.question import Budget, Question
from verifier.proof.relation import Path as RelationPath
from verifier.proof.relation import Relation, relation_of
from verifier.proof.solvers import Answer, check_all_with_z3
from verifier.proof.verdict import ProofNotChecked, Proved, Refuted, Undecided, WorkerEnded
from verifier.source import SourceFile, Sources
from verifier.surroundings.happenings import InputTurns, WaitRunsOut

JOB = """
contact gate "Gate" starts shut
button push "Push-button"
lamp light "Light" 10 W
lamp sign "Sign" 10 W
rule come_in
  retriggerable
  upon gate becomes open
  upon push pressed
  do
    light on
    wait 60 s
    light off
end rule
rule show
  upon gate becomes open provided light is off
  do
    sign on
end rule
require dark_after
  after last gate becomes open or push pressed: light is off within 60 s
end require
require too_soon
  after last gate becomes open or push pressed: light is off within 59 s
end require
require orders
  never: sign is on and light is off
end require
"""


def the_job() -> Job:
    job, found = check(Sources((SourceFile("job.dusk", JOB),)), "job")
    assert job is not None, found
    return job


def a_proof(name: str = "dark_after") -> tuple[Question, tuple[object, ...]]:
    job = the_job()
    question = Question(job, job.requirement[name], Budget())
    result = holds_or_breaks(question)
    assert isinstance(result, Holds)
    return question, result.lemmas


def unmet(relation: Relation, lemmas: tuple[object, ...]) -> list[str]:
    """The conditions that do not hold of a relation and an invariant."""
    texts = texts_of(relation, lemmas)  # type: ignore[arg-type]
    answers = check_all_with_z3(tuple(text for _, text in texts), 20)
    return [name for (name, _), a in zip(texts, answers, strict=True) if a is not Answer.UNSAT]


# ---------------------------------------------------------------- tampered evidence


def test_an_honest_certificate_meets_all_conditions_in_both_solvers() -> None:
    question, lemmas = a_proof()
    certificate = check_certificate(question.relation, lemmas, 20)  # type: ignore[arg-type]
    assert certificate.checked_by == ("z3", "cvc5")
    assert [name for name, _ in certificate.texts] == [
        "initial", "kept", "kept in time", "implies", "alive", "cover", "chain",
    ]  # fmt: skip


def test_a_certificate_without_its_lemma_is_refused() -> None:
    question, _ = a_proof()
    with pytest.raises(EvidenceFailed, match="implies"):
        check_certificate(question.relation, (), 20)


def test_the_invariant_of_another_requirement_is_refused() -> None:
    _, lemmas = a_proof()
    job = the_job()
    other = Question(job, job.requirement["too_soon"], Budget())
    with pytest.raises(EvidenceFailed):
        check_certificate(other.relation, lemmas, 20)  # type: ignore[arg-type]


def test_a_run_with_a_moment_changed_does_not_replay() -> None:
    job = the_job()
    question = Question(job, job.requirement["too_soon"], Budget())
    found = holds_or_breaks(question)
    assert isinstance(found, Breaks)
    timeline = found.timeline
    early = replace(timeline, timed=replace(timeline.timed, end=(1, 0)), edges=())
    with pytest.raises(EvidenceFailed, match="does not fail"):
        run_of(question, early, question.system.bad)


def test_a_run_with_an_outcome_changed_does_not_replay() -> None:
    job = the_job()
    question = Question(job, job.requirement["too_soon"], Budget())
    found = holds_or_breaks(question)
    assert isinstance(found, Breaks)
    timeline = found.timeline
    first = timeline.path[0]
    wrong = replace(first, target=timeline.start)
    with pytest.raises(EvidenceFailed, match="no order"):
        run_of(question, replace(timeline, path=(wrong, *timeline.path[1:])), question.system.bad)


def test_tampering_is_the_tools_own_fault_and_never_a_verdict(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from verifier.proof.formula import YES

    monkeypatch.setattr(engines, "invariant_of", lambda *_: YES)
    job = the_job()
    with pytest.raises(ToolFault, match="EvidenceFailed"):
        prove_job(job, (job.requirement["dark_after"],), ProofOptions(), lambda *_: None)


def test_the_command_ends_with_70_when_evidence_fails(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from verifier.front.command import run
    from verifier.proof.formula import YES

    (tmp_path / "job.dusk").write_text(JOB, encoding="utf-8")
    monkeypatch.setattr(engines, "invariant_of", lambda *_: YES)
    assert run(["prove", str(tmp_path), "--only", "dark_after"]) == 70
    said = capsys.readouterr()
    assert "Traceback" not in said.out + said.err


def test_a_solver_killed_in_mid_proof_leaves_the_others_unharmed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    honest = deciding.decide

    def deadly(job: Job, requirement: Requirement, budget: object = None) -> object:
        # A worker knows no names: it is told by its figure.
        if getattr(requirement.form, "within_s", None) == 60:
            os.kill(os.getpid(), signal.SIGKILL)
        return honest(job, requirement, budget)  # type: ignore[arg-type]

    monkeypatch.setattr(deciding, "decide", deadly)
    job = the_job()
    result = prove_job(job, job.requirements, ProofOptions(workers=2), lambda *_: None)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
    killed = verdicts["dark_after"]
    assert isinstance(killed, Undecided)
    assert isinstance(killed.reason, WorkerEnded)
    assert "SIGKILL" in killed.reason.how
    assert isinstance(verdicts["too_soon"], Refuted)
    assert isinstance(verdicts["orders"], Refuted | Proved)


def test_a_solver_without_an_answer_leaves_the_requirement_undecided(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(checker, "check_with_cvc5", lambda text, limit: Answer.UNKNOWN)
    job = the_job()
    verdict = decide(job, job.requirement["dark_after"])
    assert isinstance(verdict, Undecided)
    assert isinstance(verdict.reason, ProofNotChecked)
    assert "cvc5" in verdict.reason.failure


# ---------------------------------------------------------------- seeded faults


def flipped_value(path: RelationPath) -> RelationPath:
    """The path with the first Boolean that it writes turned round."""
    values = list(path.values)
    for k, (variable, source, bit) in enumerate(values):
        if source < 0 and bit in (1, 2):
            values[k] = (variable, source, 3 - bit)
            break
    return replace(path, values=tuple(values))


def without_reset(path: RelationPath) -> RelationPath:
    """The path with no clock restarted."""
    return replace(path, clocks=())


def faulty(relation: Relation, fault: str) -> Relation:
    """The relation with one fault."""
    happenings = relation.system.happenings
    paths = list(relation.paths)
    expiry = next(
        k for k, p in enumerate(paths) if isinstance(happenings[p.happening], WaitRunsOut)
    )
    opening = next(
        k
        for k, p in enumerate(paths)
        if isinstance(happenings[p.happening], InputTurns) and p.values and p.clocks
    )
    if fault == "a flipped value":
        paths[expiry] = flipped_value(paths[expiry])
    elif fault == "a lost path":
        del paths[opening]
    elif fault == "a forgotten expiry":
        paths = [p for p in paths if not isinstance(happenings[p.happening], WaitRunsOut)]
    elif fault == "a clock not restarted":
        paths[opening] = without_reset(paths[opening])
    elif fault == "a late expiry":
        cube = paths[expiry].before
        late = tuple((c, low + 2, high) for c, low, high in cube.clocks)
        paths[expiry] = replace(paths[expiry], before=replace(cube, clocks=late))
    return replace(relation, paths=tuple(paths))


FAULTS = {
    "a flipped value": {"kept"},
    "a lost path": {"cover"},
    "a forgotten expiry": {"alive", "cover"},
    "a clock not restarted": {"kept"},
    "a late expiry": {"alive", "cover"},
}
"""What is seeded into the relation, and the conditions of which at least one must catch it."""


@pytest.mark.parametrize("fault", FAULTS)
def test_a_seeded_fault_is_caught_by_a_condition(fault: str) -> None:
    question, lemmas = a_proof()
    found = set(unmet(faulty(question.relation, fault), lemmas))
    assert found & FAULTS[fault], f"{fault}: {found}"


@pytest.mark.parametrize("fault", FAULTS)
def test_a_seeded_fault_is_caught_by_the_comparison_too(fault: str) -> None:
    question, _ = a_proof()
    wrong = faulty(question.relation, fault)
    assert next(differences(wrong, Random(1), 400), None) is not None


def test_a_lost_order_is_caught_by_the_comparison_alone() -> None:
    # One order only, where the two handlers do not commute: `show` before or after `come_in`.
    job = the_job()
    requirement = job.requirement["orders"]
    question = Question(job, requirement, Budget())
    one_order = relation_of(question.system, lambda a, b: True)
    assert len(one_order.paths) < len(question.relation.paths)
    assert next(differences(one_order, Random(1), 200), None) is not None


def test_a_forgotten_bound_shows_as_time_that_passes_too_far() -> None:
    question, lemmas = a_proof()
    layout = question.system.layout
    kept = list(layout.bounds)
    layout.bounds = [b for b in kept if b.outside]
    try:
        assert "kept in time" in unmet(question.relation, lemmas)
    finally:
        layout.bounds = kept


# ---------------------------------------------------------------- shape of what comes out


def test_a_refuted_requirement_holds_its_run_and_a_proved_one_its_certificate() -> None:
    job = the_job()
    proved = decide(job, job.requirement["dark_after"])
    refuted = decide(job, job.requirement["too_soon"])
    assert isinstance(proved, Proved)
    assert proved.certificate is not None
    assert isinstance(refuted, Refuted)
    assert refuted.run is not None
    assert refuted.run.fails_s == 59
    assert refuted.run.fails_just_after
    assert refuted.run.steps[0].at_s == Fraction(0)
    assert slice_job(job, job.requirement["dark_after"]).point.keys() == {"gate", "push", "light"}
