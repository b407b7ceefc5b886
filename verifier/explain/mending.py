"""Proposals that put a requirement right, each of them proved before it is shown.

A search led by failing cases: what a remedy has to do first is to let the case go well that is
known to fail (played on the interpreter, some milliseconds); then the requirement is proved on the
changed text. If that shows another failing case, a further remedy is added for it, up to
:data:`MOST_EDITS`. A figure is found by bisection, each probe a proof: the smallest or the largest
that works. At last all requirements of the job are judged with the change.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.diagnostics import Severity
from verifier.explain.blame import goes_well
from verifier.explain.edits import diff_of, edited
from verifier.explain.explained import failing_run, fails
from verifier.explain.playback import Case, Impossible, Played, case_on, play
from verifier.explain.remedies import Figure, Remedy, remedies
from verifier.model import check
from verifier.model.job import Job
from verifier.model.words import duration
from verifier.proof import ProofOptions, prove_job
from verifier.proof.closed import EvidenceFailed
from verifier.proof.decide import decide
from verifier.proof.question import Budget, EndlessChainFound
from verifier.proof.verdict import Answered, Proved, Verdict
from verifier.proof.workers import Finished, Pool, Task
from verifier.simulate.run import Run
from verifier.source import Sources, Span

MOST_EDITS = 4
"""Remedies in one proposal."""

MOST_TRIED = 12
"""Remedies that are proved of one failing case."""

WANTED = 3
"""Proposals for one requirement."""

LONGEST_S = Fraction(8 * 3600)

GRAIN_S = Fraction(1)
"""How finely a figure is looked for."""


@dataclass(frozen=True, slots=True)
class Applied:
    """A remedy as it was applied, in words, and its place in the text that it was applied to."""

    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Mend:
    """A proposal: what is changed, the text that comes of it, and what it does to the verdicts.

    ``mended`` are the requirements that hold with it and did not, ``broken`` those that held and
    do not; ``undecided`` those that could not be judged in their time.
    """

    requirement: str
    applied: tuple[Applied, ...]
    after: Sources
    diff: tuple[str, ...]
    mended: tuple[str, ...]
    broken: tuple[str, ...]
    undecided: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a search for mends of one requirement may take, and one proof in it (seconds)."""

    all_s: float = 12.0
    proof_s: float = 1.5
    judged_s: float = 20.0
    """For each requirement, when all of them are judged with a change."""
    workers: int = 1
    wanted: int = WANTED


def good(verdict: Verdict) -> bool:
    """Whether a verdict is one to wish for: proved and not for nothing, or a bound."""
    match verdict:
        case Proved(vacuous=vacuous):
            return not vacuous
        case Answered(bound_s):
            return isinstance(bound_s, Fraction)
        case _:
            return False


@dataclass(frozen=True, slots=True)
class _Node:
    """A text on which the requirement still fails, the way to it, and the cases known to fail."""

    sources: Sources
    job: Job
    applied: tuple[Applied, ...]
    cases: tuple[Case, ...]
    run: Run


class Mending:
    """The search for proposals for one requirement of a job."""

    def __init__(self, sources: Sources, job: Job, name: str, limits: Limits) -> None:
        self.sources, self.job, self.name = sources, job, name
        self.limits = limits
        self.until = time.monotonic() + limits.all_s
        self.seen: set[tuple[str, ...]] = set()
        self.proofs = 0

    def found(self, run: Run) -> Iterator[tuple[tuple[Applied, ...], Sources]]:
        """Changed texts on which the requirement is proved, those with the least change first."""
        requirement = self.job.requirement[self.name]
        first = _Node(self.sources, self.job, (), (case_on(self.job, requirement, run),), run)
        heap: list[tuple[int, int, _Node]] = [(0, 0, first)]
        count = 0
        given: list[set[str]] = []
        while heap and time.monotonic() < self.until:
            cost, _, node = heapq.heappop(heap)
            for remedy, sources, job in self._tried(node):
                verdict = self._judged(job)
                applied = (*node.applied, Applied(remedy.words, remedy.span))
                if verdict is None:
                    continue
                if good(verdict):
                    words = {each.words for each in applied}
                    if any(fewer <= words for fewer in given):
                        continue  # something less does as well
                    yield applied, sources
                    given.append(words)
                    if len(given) >= self.limits.wanted:
                        return
                    continue
                again = failing_run(verdict)
                if again is None or len(applied) >= MOST_EDITS:
                    continue
                case = case_on(job, job.requirement[self.name], again)
                count += 1
                further = _Node(sources, job, applied, (*node.cases, case), again)
                heapq.heappush(heap, (cost + remedy.cost + 2, count, further))

    def _tried(self, node: _Node) -> Iterator[tuple[Remedy, Sources, Job]]:
        """The remedies that let every case go well that is known to fail."""
        requirement = node.job.requirement[self.name]
        played = play(node.job, requirement, node.cases[-1], "fails")
        if isinstance(played, Impossible):
            return
        tried = 0
        for remedy in remedies(node.sources, node.job, requirement, played):
            if time.monotonic() > self.until or tried >= MOST_TRIED:
                return
            if remedy.figure is not None:
                found = self._with_figure(node, remedy, remedy.figure)
            else:
                found = self._with_edits(node, remedy)
            if found is not None:
                tried += 1
                yield found

    def _with_edits(self, node: _Node, remedy: Remedy) -> tuple[Remedy, Sources, Job] | None:
        sources = edited(node.sources, remedy.edits)
        key = tuple(file.text for file in sources.files)
        if key in self.seen:
            return None
        self.seen.add(key)
        job = checked(sources, self.job)
        if job is None or self.name not in job.requirement:
            return None
        if not all(goes_well(job, job.requirement[self.name], case) for case in node.cases):
            return None
        return remedy, sources, job

    # ------------------------------------------------------------ figures

    def _with_figure(
        self, node: _Node, remedy: Remedy, figure: Figure
    ) -> tuple[Remedy, Sources, Job] | None:
        """The remedy with the figure nearest to what it is now with which the proof succeeds."""
        fails_with: set[Fraction] = set() if figure.fresh else {figure.now_s}

        def at(seconds: Fraction) -> tuple[Sources, Job] | None:
            sources = edited(node.sources, (figure.edit(seconds),))
            job = checked(sources, self.job)
            if job is None or self.name not in job.requirement:
                return None
            wanted = job.requirement[self.name]
            for case in node.cases:
                played = play(job, wanted, case, "fails")
                if isinstance(played, Impossible) or not played.keeps:
                    if isinstance(played, Played) and played.fails is not None:
                        fails_with.add(seconds)
                    return None
            verdict = self._judged(job)
            if verdict is not None and fails(verdict):
                fails_with.add(seconds)
            return (sources, job) if verdict is not None and good(verdict) else None

        bad, now, works = figure.now_s, figure.now_s, None
        while works is None:
            now = now * 2 if figure.longer else now / 2
            if not Fraction(1) <= now <= LONGEST_S or time.monotonic() > self.until:
                return None
            works = at(now)
            if works is None:
                bad = now
        while abs(now - bad) > GRAIN_S and time.monotonic() < self.until:
            middle = Fraction(round((now + bad) / 2))
            if middle in (now, bad):
                break
            there = at(middle)
            if there is None:
                bad = middle
            else:
                now, works = middle, there
        edge = edge_words(figure, now, bad, bad in fails_with)
        words = f"{remedy.words} {duration(now)}, {edge}"
        if not figure.fresh:
            words = f"{remedy.words}: {duration(now)} instead of {duration(figure.now_s)}, {edge}"
        return replace(remedy, words=words), *works

    def _judged(self, job: Job) -> Verdict | None:
        """The verdict on the requirement of a changed job; None if there is none."""
        self.proofs += 1
        left = min(self.limits.proof_s, self.until - time.monotonic())
        if left <= 0:
            return None
        try:
            return decide(job, job.requirement[self.name], Budget(limit_s=left))
        except (EndlessChainFound, EvidenceFailed):
            return None


def edge_words(figure: Figure, now: Fraction, bad: Fraction, is_bad: bool) -> str:
    """What is known of a figure that works, and of the next one that was tried and does not.

    ``is_bad``: with that one it fails; else it was not proved, which is less to know.
    """
    if not is_bad:
        return f"which works (with {duration(bad)} it was not proved)"
    if abs(now - bad) > GRAIN_S:
        return f"which works (with {duration(bad)} it fails; what lies between was not tried)"
    edge = "smallest" if figure.longer else "largest"
    return f"the {edge} figure that works (with {duration(bad)} it fails)"


def checked(sources: Sources, like: Job) -> Job | None:
    """The job of a changed text, for the same years; None if it has an error."""
    job, found = check(sources, like.name)
    if job is None or any(f.severity is Severity.ERROR for f in found):
        return None
    return replace(job, years=like.years)


def mends(
    sources: Sources,
    job: Job,
    verdicts: dict[str, Verdict],
    names: tuple[str, ...],
    limits: Limits,
    tell: Callable[[str], None],
) -> tuple[Mend, ...]:
    """Proposals for each of the named requirements that fail, the best of each first.

    ``verdicts`` are those of the job as it is; ``tell`` hears what is being looked at.
    """
    searched = _searched(sources, job, verdicts, names, limits, tell)
    judged: dict[tuple[str, ...], dict[str, Verdict]] = {}
    found: list[Mend] = []
    for name in names:
        own: list[Mend] = []
        for applied, after in searched.get(name, ()):
            key = tuple(file.text for file in after.files)
            if key not in judged:
                tell(f"what else changes, {len(judged) + 1}")
                judged[key] = _all_judged(after, job, verdicts, limits)
            own.append(_mend(name, applied, sources, after, verdicts, judged[key]))
        own.sort(key=lambda m: (len(m.broken), -len(m.mended), len(m.applied)))
        texts = [tuple(f.text for f in m.after.files) for m in found]
        found.extend(m for m in own if tuple(f.text for f in m.after.files) not in texts)
    return tuple(found)


Proposals = tuple[tuple[tuple[Applied, ...], Sources], ...]


def _searched(
    sources: Sources,
    job: Job,
    verdicts: dict[str, Verdict],
    names: tuple[str, ...],
    limits: Limits,
    tell: Callable[[str], None],
) -> dict[str, Proposals]:
    """The proposals for each requirement, each searched for in a worker of its own."""
    runs = {name: run for name in names if (run := failing_run(verdicts[name])) is not None}
    tasks = [
        Task(
            k, "verifier.explain.mending:search_task", (sources, job, n, r, limits), hard_s(limits)
        )
        for k, (n, r) in enumerate(runs.items())
    ]
    found: dict[str, Proposals] = {}
    with Pool(max(1, min(limits.workers, len(tasks)))) as pool:
        for done in pool.run(tasks):
            name = list(runs)[done.id]
            tell(name)
            if isinstance(done.outcome, Finished):
                found[name] = done.outcome.value
    return found


def hard_s(limits: Limits) -> float:
    """After how many seconds a search is stopped from outside."""
    return limits.all_s * 1.5 + 10


def search_task(sources: Sources, job: Job, name: str, run: Run, limits: Limits) -> Proposals:
    """The proposals for one requirement, as a worker finds them."""
    return tuple(Mending(sources, job, name, limits).found(run))


def _all_judged(
    after: Sources, like: Job, verdicts: dict[str, Verdict], limits: Limits
) -> dict[str, Verdict]:
    job = checked(after, like)
    assert job is not None
    asked = tuple(r for r in job.requirements if r.name in verdicts)
    options = ProofOptions(
        time_limit_s=limits.judged_s, workers=limits.workers, certificates=False, structure=False
    )
    result = prove_job(job, asked, options, lambda *_: None)
    return {requirement.name: verdict for requirement, verdict, _ in result.verdicts}


def _mend(
    name: str,
    applied: tuple[Applied, ...],
    before: Sources,
    after: Sources,
    was: dict[str, Verdict],
    now: dict[str, Verdict],
) -> Mend:
    return Mend(
        name,
        applied,
        after,
        diff_of(before, after),
        tuple(n for n in was if fails(was[n]) and n in now and good(now[n])),
        tuple(n for n in was if good(was[n]) and n in now and (fails(now[n]) or _vacuous(now[n]))),
        tuple(
            n
            for n in was
            if n not in now or not (fails(now[n]) or good(now[n]) or _vacuous(now[n]))
        ),
    )


def _vacuous(verdict: Verdict) -> bool:
    return isinstance(verdict, Proved | Answered) and verdict.vacuous
