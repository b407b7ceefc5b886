"""The picture as code: text, sources, job, findings, verdicts, result.

``prove`` is the whole way of a job; each line of it is one package. The packages are imported
where they are used: a job with a mistake in it is answered without loading a solver.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from difflib import get_close_matches
from fractions import Fraction
from typing import TYPE_CHECKING

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import Sources, Span

if TYPE_CHECKING:
    from pathlib import Path

    from verifier.model.job import Fault, Job, Requirement
    from verifier.proof import Effort, ProofOptions
    from verifier.proof.cache import Cache, Memory
    from verifier.proof.proving import OnProgress
    from verifier.proof.verdict import Verdict
    from verifier.proof.workers import Pool

OnVerdict = Callable[["Requirement", "Verdict", float], None]
"""Called with each verdict as it comes, and the seconds that it took."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """Where answers are kept (None: nowhere), where the key of their seals is, and what is rechecked.

    ``recheck`` is the part of the certificates that is checked anew, ``sample`` (0 up to 1) says
    with which of them that begins.
    """

    folder: Path | None
    key_folder: Path | None
    recheck: float = 0.0
    sample: float = 0.0


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of a job.

    ``only`` names requirements (none: all of them), ``forms`` are further ones in the words of
    the language. With ``forms`` and no ``only``, the forms alone are asked.
    """

    only: tuple[str, ...] = ()
    forms: tuple[str, ...] = ()
    time_limit_s: Fraction = Fraction(60)
    workers: int = 1
    considered: tuple[str, ...] = ()
    """Faults to consider besides those of the job, in the words that follow `consider`."""
    each_fault: bool = False
    """Whether each requirement is judged without faults and under each fault alone, too."""
    years: tuple[int, int] | None = None
    """First and last year for which a job with a site is proved; None: what the job says."""
    certificates: bool = False
    """Whether certificates come with their texts."""
    cluster: str = ""
    """The address of a cluster that does the work; empty: this machine does."""
    keeping: Keeping | None = None
    """Where answers are kept from one run to the next; None: nowhere."""


@dataclass(frozen=True, slots=True)
class UnderFaults:
    """The verdicts on all requirements with some of the considered faults (none: ``faults`` empty)."""

    faults: tuple[Fault, ...]
    verdicts: tuple[tuple[Requirement, Verdict, float], ...]


@dataclass(frozen=True, slots=True)
class Result:
    """All that came out of a job, with the sources that its places speak of.

    ``job`` is None if the text has errors; ``asked`` are the requirements to be judged,
    ``verdicts`` those that were, in the same order. They are fewer only if it was interrupted
    or if ``findings`` holds an error.
    """

    name: str
    sources: Sources
    job: Job | None
    asked: tuple[Requirement, ...]
    verdicts: tuple[tuple[Requirement, Verdict, float], ...]
    findings: tuple[Diagnostic, ...]
    interrupted: bool = False
    under: tuple[UnderFaults, ...] = ()
    """With `each_fault`: no fault, then each fault alone; all together are the ``verdicts``."""
    effort: Effort | None = None
    """What it took to find the ``verdicts``."""
    cache_problem: str = ""
    """What is wrong with the cache; empty if nothing is, or if there is none."""

    @property
    def rejected(self) -> bool:
        """Whether an error was found: then the verdicts, if any, do not count."""
        return any(f.severity is Severity.ERROR for f in self.findings)


def prove(
    sources: Sources,
    name: str,
    question: Question,
    on_verdict: OnVerdict,
    cache: Cache | Memory | None = None,
    on_progress: OnProgress | None = None,
    pool: Pool | None = None,
) -> Result:
    """The result of a job: its findings and the verdict on each requirement that is asked.

    ``cache`` is one that the caller keeps; without it the one that the question asks for.
    ``on_progress`` hears how many verdicts there are, are asked for, and what is still open;
    ``pool`` are workers that the caller keeps.
    """
    result = checked(with_considered(sources, question.considered), name)
    if result.job is not None and question.years is not None:
        result = replace(result, job=replace(result.job, years=question.years))
    if result.job is not None and not result.rejected:
        result = with_requirements(result, result.job, question)
    if result.job is not None and not result.rejected:
        result = judged(result, result.job, question, on_verdict, cache, on_progress, pool)
    alone = question.each_fault and not result.rejected and not result.interrupted
    if result.job is not None and alone:
        result = with_each_fault(result, result.job, question, on_verdict)
    return result


def judged(
    result: Result,
    job: Job,
    question: Question,
    on_verdict: OnVerdict,
    kept: Cache | Memory | None = None,
    on_progress: OnProgress | None = None,
    pool: Pool | None = None,
) -> Result:
    """The result with what the rules' graph shows, and its verdicts if there is no error in that.

    Who checks anew what was kept starts before the graph is looked at, and loads the solvers meanwhile.
    """
    with ExitStack() as stack:
        cache = None
        if kept is None:
            cache = cache_of(question.keeping)
            if cache is not None:
                stack.callback(cache.close)
        options = replace(_options(question, cache or kept), on_progress=on_progress, pool=pool)
        if kept is None:
            from verifier.proof.proving import early_checker

            checking = early_checker(job, cache)
            if checking is not None:
                options = replace(options, checking=stack.enter_context(checking))
        result = with_structure_findings(result, job)
        if result.rejected:
            return result
        result = with_verdicts(result, job, options, on_verdict)
        return result if cache is None else replace(result, cache_problem=cache.said())


def with_considered(sources: Sources, considered: tuple[str, ...]) -> Sources:
    """The sources with a file of their own for the faults that were asked for."""
    if not considered:
        return sources
    from verifier.source import SourceFile

    # One line for each, so that a place names the fault; a line of its own it stays.
    lines = (f"consider {' '.join(words.split())}\n" for words in considered)
    return Sources((*sources.files, SourceFile("--consider", "".join(lines))))


def checked(sources: Sources, name: str) -> Result:
    """The job that the sources describe, without verdicts."""
    from verifier.model import check

    job, findings = check(sources, name)
    return Result(name, sources, job, (), (), findings)


def with_requirements(result: Result, job: Job, question: Question) -> Result:
    """The result with what is to be judged: declared order, then the forms asked on the spot."""
    from verifier.model import check_form

    chosen = [r for r in job.requirements if r.name in question.only]
    if not question.only and not question.forms:
        chosen = list(job.requirements)
    findings = [
        unknown_requirement(name, job) for name in question.only if name not in job.requirement
    ]
    files = list(result.sources.files)
    for name, text in zip(_free_names(job, len(question.forms)), question.forms, strict=True):
        requirement, more, file = check_form(text, job, name)
        files.append(file)
        findings.extend(more)
        chosen.extend([] if requirement is None else [requirement])
    if not chosen and not findings:
        findings.append(_no_requirements(result.sources))
    return replace(
        result,
        sources=Sources(tuple(files)),
        asked=tuple(chosen),
        findings=(*result.findings, *findings),
    )


def with_structure_findings(result: Result, job: Job) -> Result:
    """The result with what the rules' graph shows without a solver."""
    from verifier.graph.findings import findings

    return replace(result, findings=(*result.findings, *findings(job)))


def cache_of(keeping: Keeping | None) -> Cache | None:
    """The cache in which answers are kept, if they are."""
    if keeping is None or keeping.folder is None or keeping.key_folder is None:
        return None
    from verifier.proof.cache import Cache

    return Cache(keeping.folder, keeping.key_folder)


def with_verdicts(result: Result, job: Job, options: ProofOptions, on_verdict: OnVerdict) -> Result:
    """The result with its verdicts; with those that are there when it is interrupted."""
    from verifier.proof import NoCluster, prove_job

    there: dict[str, tuple[Requirement, Verdict, float]] = {}

    def keep(requirement: Requirement, verdict: Verdict, seconds: float) -> None:
        there[requirement.name] = (requirement, verdict, seconds)
        on_verdict(requirement, verdict, seconds)

    try:
        judged = prove_job(job, result.asked, options, keep)
    except KeyboardInterrupt:
        verdicts = tuple(there[r.name] for r in result.asked if r.name in there)
        return replace(result, verdicts=verdicts, interrupted=True)
    except NoCluster as none:
        return replace(result, findings=(*result.findings, _no_cluster(str(none))))
    # What the structure showed already is not told again by the proof.
    told = {(finding.code, finding.labels[0].span) for finding in result.findings}
    more = [f for f in judged.findings if (f.code, f.labels[0].span) not in told]
    findings = (*result.findings, *more)
    return replace(result, verdicts=judged.verdicts, findings=findings, effort=judged.effort)


def _options(question: Question, cache: Cache | Memory | None) -> ProofOptions:
    from verifier.proof import ProofOptions

    keeping = question.keeping or Keeping(None, None)
    return ProofOptions(
        time_limit_s=float(question.time_limit_s),
        workers=question.workers,
        certificates=question.certificates,
        cache=cache,
        recheck=keeping.recheck,
        sample=keeping.sample,
        cluster=question.cluster,
    )


def with_each_fault(result: Result, job: Job, question: Question, on_verdict: OnVerdict) -> Result:
    """The result with the verdicts without faults and under each fault alone."""
    from verifier.proof import NoCluster

    if not job.faults:
        return replace(result, findings=(*result.findings, _no_faults()))
    cache = cache_of(question.keeping)
    options = replace(_options(question, cache), certificates=False, structure=False)
    try:
        return _each_alone(result, job, options, on_verdict)
    except NoCluster as none:
        return replace(result, findings=(*result.findings, _no_cluster(str(none))))
    finally:
        if cache is not None:
            cache.close()


def _each_alone(result: Result, job: Job, options: ProofOptions, on_verdict: OnVerdict) -> Result:
    from verifier.proof import prove_job

    alone = tuple((fault,) for fault in job.faults) if len(job.faults) > 1 else ()
    columns: tuple[tuple[Fault, ...], ...] = ((), *alone)
    for number, faults in enumerate(columns, 1):
        there: dict[str, tuple[Requirement, Verdict, float]] = {}

        def keep(
            requirement: Requirement,
            verdict: Verdict,
            seconds: float,
            there: dict[str, tuple[Requirement, Verdict, float]] = there,
        ) -> None:
            there[requirement.name] = (requirement, verdict, seconds)
            on_verdict(requirement, verdict, seconds)

        try:
            judged = prove_job(replace(job, faults=faults), result.asked, options, keep)
        except KeyboardInterrupt:
            verdicts = tuple(there[r.name] for r in result.asked if r.name in there)
            missing = tuple(UnderFaults(later, ()) for later in columns[number:])
            under = (*result.under, UnderFaults(faults, verdicts), *missing)
            return replace(result, under=under, interrupted=True)
        result = replace(result, under=(*result.under, UnderFaults(faults, judged.verdicts)))
    return result


# ---------------------------------------------------------------- what can be wrong with a question


def _free_names(job: Job, count: int) -> list[str]:
    """Names for forms asked on the spot: ``asked``, ``asked_2``, …, none of them in the job."""
    names: list[str] = []
    number = 1
    while len(names) < count:
        name = "asked" if number == 1 else f"asked_{number}"
        if name not in job.requirement:
            names.append(name)
        number += 1
    return names


def unknown_requirement(name: str, job: Job) -> Diagnostic:
    """The error that a name is which no requirement of the job has."""
    known = [r.name for r in job.requirements]
    near = get_close_matches(name, known, n=3, cutoff=0.6)
    if near:
        hint = f"Did you mean {' or '.join(near)}?"
    elif known:
        hint = f"The job's requirements: {', '.join(known[:12])}{', …' if len(known) > 12 else ''}."
    else:
        hint = 'The job has no requirement; ask one with --ask "FORM".'
    return Diagnostic(
        "unknown-requirement",
        Severity.ERROR,
        f'there is no requirement called "{name}"',
        (Label(Span("--only", 0, 0)),),
        hint,
    )


def _no_cluster(why: str) -> Diagnostic:
    return Diagnostic(
        "no-cluster",
        Severity.ERROR,
        f"there is no cluster to send the work to: {why}",
        (Label(Span("--cluster", 0, 0)),),
        "Start its scheduler and workers, give its address as in tcp://HOST:8786, and install "
        '"duskproof[cluster]" here and there; or leave --cluster out.',
    )


def _no_faults() -> Diagnostic:
    return Diagnostic(
        "no-faults",
        Severity.NOTE,
        "the job considers no fault, so there is none to judge alone",
        (Label(Span("--each-fault", 0, 0)),),
        'Write what may fail, for example `consider power cuts`, or name it with --consider "FAULT".',
    )


def _no_requirements(sources: Sources) -> Diagnostic:
    name = sources.files[0].name if sources.files else ""
    return Diagnostic(
        "no-requirements",
        Severity.ERROR,
        "the job has no requirement, so there is nothing to prove",
        (Label(Span(name, 0, 0)),),
        'Write what must hold, for example "require dark_by_day … never: day and lamp is on … '
        'end require", or ask one with --ask "FORM".',
    )
