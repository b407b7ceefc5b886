"""Checking a certificate: the texts of a relation and an invariant, and what both solvers answer.

With the interpreter, its relation and the texts' makers this is the trusted core: no engine is
imported here, nor by anything that is (an import contract sees to it).
"""

from __future__ import annotations

from dataclasses import replace

from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement
from verifier.proof.certificate import no_fact, texts_of
from verifier.proof.closed import EvidenceFailed, NotChecked, check_closed
from verifier.proof.formula import Formula, Quoted, Writer
from verifier.proof.left_out import left_out_texts
from verifier.proof.relation import Relation, relation_of
from verifier.proof.solvers import Answer, check_all_with_z3, check_with_cvc5
from verifier.proof.verdict import Alive, Certificate, LeftOut
from verifier.simulate.monitor import LeadsToMonitor, MeasureMonitor
from verifier.simulate.system import System

Texts = tuple[tuple[str, str], ...]

SOLVERS = ("z3", "cvc5")


def check_certificate(
    relation: Relation,
    lemmas: tuple[Formula, ...],
    limit_s: float,
    left_out: tuple[LeftOut, ...] = (),
    claim: int | None = None,
    job: Job | None = None,
) -> Certificate:
    """The certificate of an invariant over a relation, checked by both solvers.

    ``left_out`` are states of ``job`` on whose leaving out the relation relies.
    Raises: EvidenceFailed, NotChecked.
    """
    _are_terms(relation.system, lemmas)
    alive: Alive = "one step"
    texts, answers = _by_z3(relation, lemmas, alive, limit_s)
    if [n for (n, _), a in zip(texts, answers, strict=True) if a is not Answer.UNSAT] == ["alive"]:
        alive = "two steps"
        texts, answers = _by_z3(relation, lemmas, alive, limit_s)
        if answers[4] is not Answer.UNSAT and relation.system.job.assumptions:
            # Runs that come to a stop are kept in: more runs than there are, never fewer.
            alive = "own bounds"
            texts, answers = _by_z3(relation, lemmas, alive, limit_s)
    if left_out:
        assert job is not None
        further = left_out_texts(job, left_out)
        texts = (*texts, *further)
        answers = (*answers, *check_all_with_z3(tuple(text for _, text in further), limit_s))
    _accept("z3", texts, answers)
    _accept("cvc5", texts, tuple(check_with_cvc5(text, limit_s) for _, text in texts))
    writer = Writer(relation.system)
    written = tuple(writer.formula(lemma) for lemma in lemmas)
    calendar = _calendar(relation.system)
    return Certificate(written, texts, SOLVERS, claim, alive, left_out, calendar)


def _calendar(system: System) -> tuple[int, int, int] | None:
    """What of a calendar has to be known, to make the texts anew."""
    placed = system.world.in_calendar
    if placed is None or placed.calendar.site is None:
        return None
    return (*system.job.years, system.job.seasons)


def check_texts(texts: Texts, limit_s: float) -> None:
    """Both solvers answer ``unsat`` to each text, or it raises: EvidenceFailed, NotChecked."""
    _accept("z3", texts, check_all_with_z3(tuple(text for _, text in texts), limit_s))
    _accept("cvc5", texts, tuple(check_with_cvc5(text, limit_s) for _, text in texts))


def texts_anew(job: Job, requirement: Requirement, certificate: Certificate) -> Texts:
    """The texts of a certificate made from the rules, with nothing of its own but the lemmas.

    Every order of handling is in the relation, also where two rules cannot tell. Raises: ValueError
    with the reason if the certificate cannot be one of this requirement.
    """
    if certificate.calendar is not None:
        first, last, seasons = certificate.calendar
        job = replace(job, years=(first, last), seasons=seasons)
    part = slice_job(job, requirement, tied=bool(certificate.left_out))
    check_closed(job, requirement, part)
    cubes = tuple(cube for one in certificate.left_out for cube in one.cubes)
    system = System(part, requirement, without=cubes)
    monitor = system.monitor
    if isinstance(monitor, LeadsToMonitor | MeasureMonitor):
        if certificate.claim is None:
            raise ValueError("it claims no bound, and the requirement asks for one")
        monitor.claim(certificate.claim)
    elif certificate.claim is not None:
        raise ValueError("it claims a bound, and the requirement asks for none")
    lemmas = tuple(Quoted(lemma) for lemma in certificate.lemmas)
    _are_terms(system, lemmas)
    own = texts_of(
        relation_of(system),
        lemmas,
        two_steps=certificate.alive != "one step",
        own_bounds=certificate.alive == "own bounds",
    )
    return (*own, *left_out_texts(job, certificate.left_out))


def _are_terms(system: System, lemmas: tuple[Formula, ...]) -> None:
    """Each lemma that is text is one term over the state. Raises: EvidenceFailed."""
    writer = Writer(system)
    for lemma in lemmas:
        if isinstance(lemma, Quoted):
            wrong = no_fact(writer, lemma.text)
            if wrong:
                raise EvidenceFailed(f"a lemma is no fact about a state: {wrong}")


def _by_z3(
    relation: Relation, lemmas: tuple[Formula, ...], alive: Alive, limit_s: float
) -> tuple[Texts, tuple[Answer, ...]]:
    texts = texts_of(
        relation,
        lemmas,
        two_steps=alive != "one step",
        own_bounds=alive == "own bounds",
    )
    return texts, check_all_with_z3(tuple(text for _, text in texts), limit_s)


def _accept(solver: str, texts: Texts, answers: tuple[Answer, ...]) -> None:
    for (name, _), answer in zip(texts, answers, strict=True):
        if answer is Answer.UNKNOWN:
            raise NotChecked(f"{solver} gave no answer on the condition “{name}” in time")
        if answer is not Answer.UNSAT:
            raise EvidenceFailed(f"{solver} answers {answer.name} on the condition “{name}”")
