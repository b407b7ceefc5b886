"""All requirements of a job: endless chains first, then each requirement in a worker of its own."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model.job import (
    Job,
    Never,
    Repeat,
    Requirement,
    Rule,
    Running,
    Wait,
    statements_of,
)
from verifier.proof.chain import Chain
from verifier.proof.doubts import STRUCTURE_S, StructureQuestion, structure_questions
from verifier.proof.verdict import (
    Answered,
    LimitMet,
    OutOfRoom,
    OutOfTime,
    Proved,
    Refuted,
    Undecided,
    Verdict,
    WorkerEnded,
)
from verifier.source import Span

if TYPE_CHECKING:
    from verifier.proof.workers import Task

OnVerdict = Callable[[Requirement, Verdict, float], None]


NEARLY = 0.95
"""The part of its time after which what gives up gave up for want of it."""


class ToolFault(Exception):
    """The tool's own evidence did not pass its own check, or a part of it broke."""


@dataclass(frozen=True, slots=True)
class ProofOptions:
    """How to prove: seconds for each requirement, worker processes, whether texts are kept.

    ``structure``: whether the rules' structure is asked about, too.
    """

    time_limit_s: float = 60.0
    workers: int = 1
    certificates: bool = False
    structure: bool = True


@dataclass(frozen=True, slots=True)
class JobResult:
    """Verdicts in declared order with the seconds that each took, and what else was found."""

    verdicts: tuple[tuple[Requirement, Verdict, float], ...]
    findings: tuple[Diagnostic, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """What a worker sends back."""

    verdict: Verdict | Chain
    seconds: float


def decide_task(job: Job, requirement: Requirement, limit_s: float, certificates: bool) -> Told:
    """The verdict on one requirement, as a worker gives it. Raises: EvidenceFailed."""
    from verifier.proof.decide import decide
    from verifier.proof.question import Budget, EndlessChainFound

    began = time.perf_counter()
    verdict: Verdict | Chain
    try:
        verdict = which_limit(
            decide(job, requirement, Budget(limit_s=limit_s)), time.perf_counter() - began, limit_s
        )
    except EndlessChainFound as found:
        verdict = found.args[0]
    if not certificates and not isinstance(verdict, Chain):
        verdict = without_texts(verdict)
    return Told(verdict, time.perf_counter() - began)


def which_limit(verdict: Verdict, seconds: float, limit_s: float) -> Verdict:
    """The verdict; if it is undecided for a limit, with the one that was met.

    >>> which_limit(Undecided(LimitMet(), 3), 60.0, 60.0).reason
    OutOfTime(limit_s=60.0)
    >>> which_limit(Undecided(LimitMet(), 3), 6.0, 60.0).reason
    OutOfRoom()
    """
    match verdict:
        case Undecided(LimitMet()):
            timely = seconds < NEARLY * limit_s
            return replace(verdict, reason=OutOfRoom() if timely else OutOfTime(limit_s))
        case _:
            return verdict


def without_texts(verdict: Verdict) -> Verdict:
    """The verdict with its certificate's texts left out (they are large)."""
    match verdict:
        case Proved(certificate) | Refuted(_, certificate) | Answered(_, _, certificate):
            if certificate is None:
                return verdict
            return replace(verdict, certificate=replace(certificate, texts=()))
        case Undecided():
            return verdict


def chain_task(job: Job, rule: str, limit_s: float) -> Chain | LimitMet | None:
    """The endless chain of a rule, None if there is none, or why that could not be told."""
    from verifier.proof.evidence import raise_chain
    from verifier.proof.hull import hull
    from verifier.proof.moves import TooLarge
    from verifier.proof.question import Budget, EndlessChainFound, Question

    requirement = _about(job, rule)
    question = Question(job, requirement, Budget(limit_s=limit_s), lambda _: lambda __: False)
    try:
        found = hull(question.moves, most_states=20_000, limit_s=limit_s)
        if found.endless:
            raise_chain(question)
    except EndlessChainFound as chain:
        result = chain.args[0]
        assert isinstance(result, Chain)
        return result
    except TooLarge:
        return LimitMet()
    return None


def _about(job: Job, rule: str) -> Requirement:
    span = job.rule[rule].span
    return Requirement(f"chain of {rule}", "", None, Never(Running(rule)), Fraction(0), span)


def suspects(job: Job) -> tuple[str, ...]:
    """Rules that could be part of an endless chain, one for each group that sets itself off."""
    from verifier.graph.footprints import sets_off

    follows = sets_off(job)
    found: list[str] = []
    covered: set[str] = set()
    for rule in job.rules:
        reach: set[str] = set()
        todo = list(follows[rule.name])
        while todo:
            name = todo.pop()
            if name not in reach:
                reach.add(name)
                todo.extend(follows[name])
        loops = any(
            isinstance(s, Repeat) and not any(isinstance(inner, Wait) for inner in s.body)
            for s in statements_of(rule.body)
        )
        if loops or (rule.name in reach and rule.name not in covered):
            found.append(rule.name)
            covered |= {n for n in reach if rule.name in _reach(follows, n)}
    return tuple(found)


def _reach(follows: dict[str, tuple[str, ...]], start: str) -> set[str]:
    reach: set[str] = set()
    todo = [start]
    while todo:
        for name in follows[todo.pop()]:
            if name not in reach:
                reach.add(name)
                todo.append(name)
    return reach


def chain_finding(job: Job, chain: Chain) -> Diagnostic:
    """The error that an endless chain is."""
    lines: dict[Span, None] = dict.fromkeys(chain.lines)
    labels = tuple(Label(span, "goes round") for span in lines)
    names = [rule.name for rule in job.rules if lines.keys() & _places(rule)]
    who = " and ".join(names) if names else "a rule"
    first = f", after {chain.happenings} happenings" if chain.happenings else ""
    return Diagnostic(
        "endless-chain",
        Severity.ERROR,
        f"{who} {'goes' if len(names) < 2 else 'go'} round for ever in one instant, begun by: "
        f"{chain.begins}{first}",
        labels,
        "Put a `wait` into the loop, or a guard that becomes false, so that it comes to an end.",
    )


def _places(rule: Rule) -> set[Span]:
    """Every place of a rule that a run can name."""
    return {t.span for t in rule.triggers} | {s.span for s in statements_of(rule.body)}


def left_out_findings(job: Job) -> tuple[Diagnostic, ...]:
    """A warning if the surroundings have no way to go on from some states (15)."""
    from verifier.proof.blocked import doomed

    found = doomed(job)
    if not found.cubes and not found.undecided:
        return ()
    what = (
        "what is assumed contradicts itself in some states, which are left out of all runs"
        if found.cubes
        else "whether what is assumed contradicts itself in some states could not be told"
    )
    return (
        Diagnostic(
            "states-left-out",
            Severity.WARNING,
            what,
            tuple(Label(assumption.span) for assumption in job.assumptions),
            "Look at the figures: a stretch that must last is longer than one that may.",
        ),
    )


def prove_job(
    job: Job,
    requirements: tuple[Requirement, ...],
    options: ProofOptions,
    on_verdict: OnVerdict,
) -> JobResult:
    """The verdicts on ``requirements``; ``on_verdict`` is called with each as it comes.

    Raises: ToolFault.
    """
    from verifier.proof.workers import Died, Failed, Finished, Killed, Pool
    from verifier.surroundings.calendar import warm_up

    chains = suspects(job)
    asked = _asked(job, requirements, options)
    tasks = _tasks(job, requirements, options, chains, asked)
    found: dict[int, tuple[Verdict, float]] = {}
    told: dict[int, tuple[Diagnostic, ...]] = {}
    endless: list[Chain] = []
    notes: list[Diagnostic] = list(left_out_findings(job))
    faults: list[str] = []
    _load_solvers()
    # The sun of thirty years, once, before the workers are forked.
    warm_up(job)
    with Pool(max(1, min(options.workers, len(tasks)))) as pool:
        left, structure_until = len(chains) + len(requirements), float("inf")
        for done in pool.run(tasks):
            if done.id < len(requirements):
                left -= 1
            if not left:
                # All that was claimed is answered: the rest only adds findings, and is cut short.
                structure_until = min(structure_until, time.monotonic() + STRUCTURE_S)
            if time.monotonic() > structure_until:
                break
            if done.id < 0:
                name = chains[-1 - done.id]
                match done.outcome:
                    case Finished(Chain() as chain):
                        endless.append(chain)
                        break
                    case Finished(None):
                        continue
                    case Finished(LimitMet()):
                        notes.append(_undecided_chain(job, name, "the search grew too large"))
                    case Killed(why) | Died(why):
                        notes.append(_undecided_chain(job, name, why))
                    case Failed(text, _):
                        faults.append(text)
                continue
            if done.id >= len(requirements):
                if isinstance(done.outcome, Finished):
                    number = done.id - len(requirements)
                    told[number] = asked[number].told(done.outcome.value)
                continue
            requirement = requirements[done.id]
            match done.outcome:
                case Finished(Told(Chain() as chain, _)):
                    endless.append(chain)
                    break
                case Finished(Told(verdict, seconds)):
                    assert not isinstance(verdict, Chain)
                    found[done.id] = (verdict, seconds)
                case Killed(why) | Died(why):
                    found[done.id] = (Undecided(WorkerEnded(why), 0), options.time_limit_s)
                case Failed(text, _):
                    faults.append(text)
                    continue
            on_verdict(requirement, *found[done.id])
    if faults and not endless:
        # With an endless chain there is no verdict to be had, so that comes first.
        raise _fault(faults[0])
    findings = [*(chain_finding(job, chain) for chain in endless[:1]), *notes]
    findings.extend(finding for k in sorted(told) for finding in told[k])
    verdicts = tuple(
        (requirement, *found[k]) for k, requirement in enumerate(requirements) if k in found
    )
    return JobResult(verdicts, tuple(findings))


def _asked(
    job: Job, requirements: tuple[Requirement, ...], options: ProofOptions
) -> tuple[StructureQuestion, ...]:
    """What is asked of the rules' structure: only with the whole job."""
    whole = options.structure and requirements == job.requirements
    return structure_questions(job) if whole else ()


def _tasks(
    job: Job,
    requirements: tuple[Requirement, ...],
    options: ProofOptions,
    chains: tuple[str, ...],
    asked: tuple[StructureQuestion, ...],
) -> list[Task]:
    """What the workers do: chains first (numbers below 0), requirements, structure."""
    from verifier.proof.workers import Task

    hard_s = options.time_limit_s * 1.5 + 10
    tasks = [
        Task(
            -1 - k,
            "verifier.proof.proving:chain_task",
            (job, name, options.time_limit_s),
            hard_s,
        )
        for k, name in enumerate(chains)
    ]
    tasks.extend(
        Task(
            k,
            "verifier.proof.proving:decide_task",
            (job, requirement, options.time_limit_s, options.certificates),
            hard_s,
        )
        for k, requirement in enumerate(requirements)
    )
    tasks.extend(
        Task(len(requirements) + k, question.function, question.arguments, question.limit_s)
        for k, question in enumerate(asked)
    )
    return tasks


def _fault(text: str) -> ToolFault:
    """The fault of a worker; its whole traceback goes with it as a note."""
    fault = ToolFault(text.strip().splitlines()[-1].rpartition(".")[2])
    fault.add_note(text)
    return fault


def _load_solvers() -> None:
    """Loads what the workers need, once, before they are forked."""
    import verifier.proof.decide  # noqa: F401
    from verifier.proof.solvers import load_solvers

    load_solvers()


def _undecided_chain(job: Job, rule: str, why: str) -> Diagnostic:
    return Diagnostic(
        "chain-undecided",
        Severity.WARNING,
        f"whether {rule} can be part of an endless chain could not be told: {why}",
        (Label(job.rule[rule].span),),
        "Give it more time with --time-limit, or break the chain with a `wait` or a guard.",
    )
