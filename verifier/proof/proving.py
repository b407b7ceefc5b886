"""All requirements of a job: endless chains first, then each requirement in a worker of its own."""

from __future__ import annotations

import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, assert_never, overload

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
from verifier.proof.doubts import (
    DOUBT_S,
    DOUBT_WORK,
    STRUCTURE_S,
    StructureQuestion,
    structure_questions,
)
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
    certificate_of,
)

if TYPE_CHECKING:
    from verifier.proof.cache import Cache, Kept, Memory
    from verifier.proof.cluster import Cluster
    from verifier.proof.obligations import Asked, Kind, Obligation, Plan
    from verifier.proof.turns import Turns
    from verifier.proof.workers import Done, Ending, Pool, Task

OnVerdict = Callable[[Requirement, Verdict, float], None]

OnProgress = Callable[[int, int, int], None]
"""Called with the verdicts there are, those that are asked for, and the questions still open."""


NEARLY = 0.95
"""The part of its time after which what gives up gave up for want of it."""


class ToolFault(Exception):
    """The tool's own evidence did not pass its own check, or a part of it broke."""


class NoCluster(Exception):
    """There is no cluster to send work to: why, in words."""


@dataclass(frozen=True, slots=True)
class ProofOptions:
    """How to prove: seconds for each requirement, worker processes, whether texts are kept.

    ``structure``: whether the rules' structure is asked about, too. ``cache``: answers that are
    kept from one run to the next; ``recheck``: how many of its certificates are checked anew, as
    a part of all. At least one is, which one ``sample`` (from 0 up to 1) tells. ``cluster`` is the
    address of a cluster that does the work; none: processes of this machine do. ``pool`` is theirs
    where the caller has them, and ends them; ``checking`` those that check a few certificates anew.
    """

    time_limit_s: float = 60.0
    workers: int = 1
    certificates: bool = False
    structure: bool = True
    cache: Cache | Memory | None = None
    recheck: float = 0.0
    sample: float = 0.0
    cluster: str = ""
    pool: Pool | None = None
    checking: Pool | None = None
    on_progress: OnProgress | None = None


@dataclass(frozen=True, slots=True)
class Effort:
    """What it took: ``distinct`` questions stand behind the verdicts, the rest are like one of them.

    ``reused`` of these were kept from an earlier run, ``rechecked`` certificates of those checked
    anew; ``refused`` were not accepted, and then all were proved afresh.
    """

    distinct: int = 0
    reused: int = 0
    rechecked: int = 0
    refused: int = 0


@dataclass(frozen=True, slots=True)
class JobResult:
    """Verdicts in declared order with the seconds that each took, and what else was found."""

    verdicts: tuple[tuple[Requirement, Verdict, float], ...]
    findings: tuple[Diagnostic, ...]
    effort: Effort = Effort()


@dataclass(frozen=True, slots=True)
class Told:
    """What a worker sends back: a verdict or chain, or what else was asked, and its seconds."""

    verdict: Any
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
    from verifier.graph.slice import about_rule
    from verifier.proof.evidence import raise_chain
    from verifier.proof.hull import hull
    from verifier.proof.moves import TooLarge
    from verifier.proof.question import Budget, EndlessChainFound, Question

    requirement = about_rule(job, rule)
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


def suspects(job: Job) -> tuple[str, ...]:
    """Rules that could be part of an endless chain, one for each group that sets itself off."""
    from verifier.graph.footprints import groups_that_set_themselves_off

    groups = frozenset(groups_that_set_themselves_off(job))
    return tuple(
        rule.name for rule in job.rules if rule.name in groups or _has_a_loop_without_a_wait(rule)
    )


def _has_a_loop_without_a_wait(rule: Rule) -> bool:
    return any(
        isinstance(s, Repeat) and not any(isinstance(inner, Wait) for inner in s.body)
        for s in statements_of(rule.body)
    )


def chain_finding(chain: Chain) -> Diagnostic:
    """The error that an endless chain is."""
    labels = tuple(Label(span, "goes round") for span in dict.fromkeys(chain.lines))
    who = " and ".join(chain.rules) if chain.rules else "a rule"
    first = f", after {chain.happenings} happenings" if chain.happenings else ""
    return Diagnostic(
        "endless-chain",
        Severity.ERROR,
        f"{who} {'goes' if len(chain.rules) < 2 else 'go'} round for ever in one instant, begun by: "
        f"{chain.begins}{first}",
        labels,
        "Put a `wait` into the loop, or a guard that becomes false, so that it comes to an end.",
    )


def left_out_findings(job: Job) -> tuple[Diagnostic, ...]:
    """A warning if the surroundings have no way to go on from some states (15)."""
    from verifier.proof.may_block import doomed

    found = doomed(job)
    if not found.cubes and not found.undecided:
        return ()
    what = (
        "what is assumed, and what things start with, leave no run: requirements hold of nothing"
        if found.everything
        else "what is assumed contradicts itself in some states, which are left out of all runs"
        if found.cubes
        else "whether what is assumed contradicts itself in some states could not be told"
    )
    return (
        Diagnostic(
            "states-left-out",
            Severity.WARNING,
            what,
            tuple(Label(assumption.span) for assumption in job.assumptions),
            "Take them out one by one, and compare each with what things start with."
            if found.everything
            else "Look at the figures: a stretch that must last is longer than one that may.",
        ),
    )


def prove_job(
    job: Job,
    requirements: tuple[Requirement, ...],
    options: ProofOptions,
    on_verdict: OnVerdict,
) -> JobResult:
    """The verdicts on ``requirements``; ``on_verdict`` is called with each as it comes.

    Raises: ToolFault, NoCluster.
    """
    from verifier.proof.obligations import Plan

    whole = requirements == job.requirements
    plan = Plan(job, twins=whole)
    chains = suspects(plan.firsts)
    asked = structure_questions(plan.firsts) if whole and options.structure else ()
    notes = left_out_findings(job)
    plan.ask_all(chains, requirements, asked)
    answers = Answers(job, requirements, chains, asked, plan, options, on_verdict)
    kept = answers.look_up()
    with answers.begun():
        answers.take_kept(kept)
        answers.work()
    return answers.result(notes)


def early_checker(job: Job, cache: Cache | None) -> Pool | None:
    """Who checks anew what was kept, begun ahead of that; None where nothing is kept.

    It loads the solvers by itself, and this process goes on: often nothing else needs them.
    """
    from verifier.proof.workers import Pool
    from verifier.surroundings.calendar import warm_up

    if cache is None or not cache.holds_some:
        return None
    # The sun of thirty years, once, before workers are forked.
    warm_up(job)
    pool = Pool(1)
    pool.prepare(1, f"{__name__}:ready_to_check")
    return pool


class Answers:
    """The answers to a plan's obligations, as they come in: from a cache, then from workers."""

    def __init__(
        self,
        job: Job,
        requirements: tuple[Requirement, ...],
        chains: tuple[str, ...],
        structure: tuple[StructureQuestion, ...],
        plan: Plan,
        options: ProofOptions,
        on_verdict: OnVerdict,
    ) -> None:
        self.job = job
        self.requirements = requirements
        self.chains = chains
        self.structure = structure
        self.plan = plan
        self.options = options
        self.on_verdict = on_verdict
        self.found: dict[int, tuple[Verdict, float]] = {}
        self.told: dict[int, Any] = {}
        """Answers on the rules' structure of which there is something to tell."""
        self.notes: dict[int, tuple[Diagnostic, ...]] = {}
        """What is told of chains, by their numbers."""
        self.endless: list[Chain] = []
        self.faults: dict[tuple[Kind, int], str] = {}
        self.open = list(plan.obligations)
        self.reused = 0
        self.rechecked = 0
        self.refused = 0
        self.again: list[Asked] = []
        """Verdicts that have to be found on the whole job."""
        self.held: list[tuple[int, Verdict, float]] | None = None
        """Verdicts that are not told yet."""
        self.chain_in: tuple[Kind, Asked] | None = None
        """What came upon an endless chain, which has to be found in the job's own names."""
        self.pool: Pool | Cluster | None = None
        self.running: tuple[Iterator[Done], Turns] | None = None
        """What workers have begun on, and who they are."""

    # ------------------------------------------------------------ answers

    def look_up(self) -> list[tuple[Obligation, Kept]]:
        """What the cache has of what is asked; the rest stays open."""
        cache = self.options.cache
        if cache is None:
            return []
        kept: list[tuple[Obligation, Kept]] = []
        missing: list[Obligation] = []
        limit_s, texts = self.options.time_limit_s, self.options.certificates
        for obligation, answer in cache.answers(self.open, limit_s, texts=texts):
            if answer is None:
                missing.append(obligation)
            else:
                kept.append((obligation, answer))
        self.open = missing
        return kept

    @contextmanager
    def begun(self) -> Iterator[None]:
        """A stretch in which workers are at what is open while this process does something else."""
        if not self.open:
            yield
            return
        with self._workers() as self.pool:
            self.running = self._run(self.pool)
            yield

    def _run(self, pool: Pool | Cluster) -> tuple[Iterator[Done], Turns]:
        """The answers to what is open as they come, and the order in which it is asked."""
        turns = self._turns()
        hard_s = _hard(self.options.time_limit_s)
        return pool.run(_Tasks(self.plan, self.open, self.options, hard_s), turns), turns

    def take_kept(self, kept: list[tuple[Obligation, Kept]]) -> None:
        """Takes what the cache had, once some of its certificates were checked anew."""
        cache = self.options.cache
        if cache is None:
            return
        strange = [
            (obligation, answer.value)
            for obligation, answer in kept
            if not answer.own and certificate_of(answer.value) is not None
        ]
        with self._recheck(strange) as refused:
            # The solvers look at theirs meanwhile; until they agree nothing of this is told.
            self.held = []
            for obligation, answer in kept:
                self.reused += obligation.kind == "verdict"
                self.take(obligation, answer.value, 0.0)
            held, self.held = self.held, None
            self.refused = refused()
        if self.refused:
            for obligation, _ in kept:
                cache.drop(obligation)
            self._begin_anew()
        else:
            for number, verdict, seconds in held:
                self._keep(number, verdict, seconds)
        self._tell(self._open_claims())

    def _open_claims(self) -> int:
        return sum(obligation.kind in _CLAIMED for obligation in self.open)

    def _tell(self, left: int) -> None:
        """Tells how far it has come."""
        if self.options.on_progress is not None:
            self.options.on_progress(len(self.found), len(self.requirements), left)

    @contextmanager
    def _recheck(self, kept: list[tuple[Obligation, Any]]) -> Iterator[Callable[[], int]]:
        """Has some certificates that were kept checked anew; how many of them the solvers refuse.

        If one is refused nothing that was kept is believed.
        """
        from verifier.proof.workers import Finished, Pool, Task

        if not kept:
            yield lambda: 0
            return
        self.rechecked = max(1, round(self.options.recheck * len(kept)))
        first = int(self.options.sample * len(kept))
        chosen = [kept[(first + k) % len(kept)] for k in range(self.rechecked)]
        limit_s = self.options.time_limit_s
        tasks = [
            Task(
                number,
                "verifier.proof.proving:recheck_task",
                (self.plan.canonical(obligation).part, value, limit_s),
                _hard(limit_s),
            )
            for number, (obligation, value) in enumerate(chosen)
        ]
        many = len(tasks) > 2 * self.options.workers
        if many:
            ready_to_prove()  # else the one worker does, while this process goes on
        early = None if many else _not_ended(self.options.checking)
        with early or Pool(self._most(len(chosen))) as pool:
            ended = pool.run(tasks)
            yield lambda: sum(done.outcome != Finished(True) for done in ended)

    def _begin_anew(self) -> None:
        """Forgets all that was found."""
        self.found.clear()
        self.told.clear()
        self.notes.clear()
        self.faults.clear()
        self.again.clear()
        self.chain_in = None
        self.running = None
        self.reused = 0
        self.open = list(self.plan.obligations)

    def take(self, obligation: Obligation, value: Any, seconds: float) -> None:
        """Takes the answer to an obligation, for all who asked for it."""
        if isinstance(value, Chain):
            self.chain_in = (obligation.kind, obligation.asked[0])
            self.plan.forget(obligation)
            return
        for one in obligation.asked:
            match obligation.kind:
                case "chain":
                    if isinstance(value, LimitMet):
                        self._no_chain_told(one, "the search grew too large")
                case "verdict":
                    for each in self.plan.alike(one):
                        self._verdict(obligation, each, value, seconds)
                        seconds = 0.0
                case _:
                    if self.structure[one.number].told(value):
                        self.told[one.number] = value
        self.plan.forget(obligation)

    def _no_chain_told(self, one: Asked, why: str) -> None:
        name = self.chains[one.number]
        names = (name, *self.plan.twins.names_of(name))
        self.notes[one.number] = tuple(_undecided_chain(self.job, each, why) for each in names)

    def _verdict(self, obligation: Obligation, one: Asked, value: Verdict, seconds: float) -> None:
        from verifier.proof.closed import EvidenceFailed, NotOnTheWhole

        began = time.perf_counter()
        try:
            verdict = self._carried(obligation, one, value)
        except NotOnTheWhole:
            self.again.append(one)
        except EvidenceFailed as failed:
            self._fail("verdict", one, "".join(traceback.format_exception(failed)))
        else:
            self._keep(one.number, verdict, seconds + time.perf_counter() - began)

    def _carried(self, obligation: Obligation, one: Asked, value: Verdict) -> Verdict:
        """The verdict in the job's own names, checked. Raises: EvidenceFailed, NotOnTheWhole."""
        from verifier.proof.closed import check_closed
        from verifier.proof.renaming import carried, check_renaming, under_own_names

        plan, requirement, own = self.plan, one.requirement, one.keyed
        if not one.twin:
            part = plan.part(requirement)
            if plan.by_slices:
                # What is left out beside the firsts was seen to speak of nothing there.
                check_closed(plan.firsts, requirement, part)
            check_renaming(plan.canonical(obligation).part, part, own.names)
        if not self.options.certificates:
            value = without_texts(value)
        renamed: Verdict = under_own_names(value, own.names, own.spans)
        return carried(self.job, requirement, renamed, plan.without)

    def _fail(self, kind: Kind, one: Asked, text: str) -> None:
        self.faults.setdefault((kind, one.number), text)

    def _keep(self, number: int, verdict: Verdict, seconds: float) -> None:
        if self.held is not None:
            self.held.append((number, verdict, seconds))
            return
        self.found[number] = (verdict, seconds)
        self.on_verdict(self.requirements[number], verdict, seconds)

    # ------------------------------------------------------------ workers

    def work(self) -> None:
        """Lets workers answer what is open."""
        if not self.open and not self.again and self.chain_in is None:
            return
        with _not_ended(self.pool) or self._workers() as pool:
            self._work_on_slices(pool)
            self._work_on_the_whole(pool)

    def _workers(self) -> AbstractContextManager[Pool | Cluster]:
        """Who does the work: a cluster, if one is named, else processes of this machine."""
        from verifier.proof.workers import Pool
        from verifier.surroundings.calendar import warm_up

        if self.options.cluster:
            from verifier.proof.cluster import Cluster

            return Cluster(self.options.cluster)
        early = _not_ended(self.options.pool)
        if early is not None:
            return early
        ready_to_prove()
        # The sun of thirty years, once, before the workers are forked.
        warm_up(self.job)
        return Pool(self._most(len(self.open)))

    def _most(self, tasks: int) -> int:
        """How many workers so many tasks can have."""
        return max(1, min(self.options.workers, tasks))

    def _work_on_slices(self, pool: Pool | Cluster) -> None:
        left, structure_until = self._open_claims(), float("inf")
        before_chain = set(range(len(self.open)))
        """What has to be answered still before a chain that was found may be told."""
        self._tell(left)
        (running, turns), self.running = self.running or self._run(pool), None
        for done in running:
            obligation, known = self.open[done.id], self.chain_in
            left -= obligation.kind in _CLAIMED
            if not left:
                # All that was claimed is answered: the rest only adds findings, and is cut short.
                structure_until = min(structure_until, time.monotonic() + STRUCTURE_S)
            if known is None and time.monotonic() > structure_until:
                return
            if known is None or done.id in before_chain:
                self._done(obligation, done.outcome)
            before_chain.discard(done.id)
            if self.chain_in is not known:
                before_chain &= set(range(done.id))
                turns.only_before(done.id)
            if self.chain_in is None:
                self._tell(left)
            elif not before_chain:
                # The first as declared, whichever was found first and however many workers there are.
                return

    def _turns(self) -> Turns:
        """The order of the open obligations: those of chains, then by their weight, then the rest."""
        from verifier.proof.turns import Turns
        from verifier.proof.weight import Weights

        weights = Weights(self.job)

        def heavy(number: int) -> tuple[bool, int]:
            obligation = self.open[number]
            one = obligation.asked[0]
            if obligation.kind == "chain" or not self.plan.by_slices:
                return obligation.kind != "chain", 0
            return True, weights.of(one.requirement.form, one.keyed.names)

        claimed = [n for n, each in enumerate(self.open) if each.kind in _CLAIMED]
        rest = [n for n, each in enumerate(self.open) if each.kind not in _CLAIMED]
        return Turns(
            sorted(claimed, key=heavy),
            rest,
            workers=self.options.workers,
            limit_s=self.options.time_limit_s,
        )

    def _done(self, obligation: Obligation, outcome: Ending) -> None:
        from verifier.proof.workers import Died, Failed, Finished, Killed

        match outcome:
            case Finished(Told(value, seconds)):
                if self.options.cache is not None:
                    self.options.cache.keep(obligation, value, self.options.time_limit_s)
                self.take(obligation, value, seconds)
            case Killed(why) | Died(why):
                if obligation.kind == "verdict":
                    for one in obligation.asked:
                        for each in self.plan.alike(one):
                            ended = Undecided(WorkerEnded(why), 0)
                            self._keep(each.number, ended, self.options.time_limit_s)
                elif obligation.kind == "chain":
                    for one in obligation.asked:
                        self._no_chain_told(one, why)
            case Failed(text, _):
                # What is asked of the structure is no claim: without an answer nothing is told.
                if obligation.kind in _CLAIMED:
                    self._fail(obligation.kind, obligation.asked[0], text)
            case _:
                raise AssertionError(outcome)

    def _work_on_the_whole(self, pool: Pool | Cluster) -> None:
        """What slices cannot tell: a run's place in the whole job, an endless chain in its words."""
        from verifier.proof.workers import Died, Failed, Finished, Killed, Task

        if self.chain_in is None:
            asked: list[tuple[Kind, Asked]] = [("verdict", one) for one in self.again]
        else:
            asked = [self.chain_in]
        limit_s, texts = self.options.time_limit_s, self.options.certificates
        task = "verifier.proof.proving:answer_task"
        tasks = [
            Task(number, task, (kind, self._whole(one), None, limit_s, texts), _hard(limit_s))
            for number, (kind, one) in enumerate(asked)
        ]
        for done in pool.run(tasks):
            kind, one = asked[done.id]
            match done.outcome:
                case Finished(Told(Chain() as chain, _)):
                    self.endless.append(chain)
                case Finished(Told(verdict, seconds)):
                    if self.chain_in is None:
                        self._keep(one.number, verdict, seconds)
                case Killed(why) | Died(why):
                    if self.chain_in is None:
                        self._keep(one.number, Undecided(WorkerEnded(why), 0), limit_s)
                case Failed(text, _):
                    self._fail(kind, one, text)
        if self.chain_in is not None and not self.endless and not self.faults:
            raise ToolFault("an endless chain of a slice is none of the job")

    def _whole(self, one: Asked) -> Job:
        """The whole job, with what is asked alone to be judged."""
        return replace(self.job, requirements=(one.requirement,))

    # ------------------------------------------------------------ the end

    def _told(self) -> Iterator[Diagnostic]:
        """What the answers on the rules' structure tell, also of the twins of what was asked about."""
        if not self.told:
            return
        every = structure_questions(self.job) if self.plan.twins.of else self.structure
        number = {(question.kind, question.name): k for k, question in enumerate(every)}
        values: dict[int, Any] = {}
        for k, value in self.told.items():
            about = self.structure[k]
            for name in (about.name, *self.plan.twins.names_of(about.name)):
                values[number[about.kind, name]] = value
        for k in sorted(values):
            yield from every[k].told(values[k])

    def result(self, notes: tuple[Diagnostic, ...]) -> JobResult:
        """Verdicts in declared order, and what else was found. Raises: ToolFault."""
        if self.faults and not self.endless:
            # With an endless chain there is no verdict to be had, so that comes first.
            raise _fault(self.faults[min(self.faults)])
        if self.endless:
            # What else was answered until then hangs on who was quicker, and does not count.
            return JobResult((), (chain_finding(self.endless[0]), *notes))
        undecided = (note for number in sorted(self.notes) for note in self.notes[number])
        findings = [*notes, *undecided, *self._told()]
        verdicts = tuple(
            (requirement, *self.found[k])
            for k, requirement in enumerate(self.requirements)
            if k in self.found
        )
        of_verdicts = [o for o in self.plan.obligations if o.kind == "verdict"]
        effort = Effort(len(of_verdicts), self.reused, self.rechecked, self.refused)
        return JobResult(verdicts, tuple(findings), effort)


_CLAIMED = frozenset({"chain", "verdict"})


def _hard(limit_s: float) -> float:
    """After how long a worker is ended that has a limit."""
    return limit_s * 1.5 + 10


class _Tasks(Sequence["Task"]):
    """The tasks of obligations, each made when a worker is ready for it."""

    def __init__(
        self, plan: Plan, obligations: list[Obligation], options: ProofOptions, hard_s: float
    ) -> None:
        self.plan = plan
        self.obligations = obligations
        self.options = options
        self.hard_s = hard_s

    def __len__(self) -> int:
        return len(self.obligations)

    @overload
    def __getitem__(self, number: int) -> Task: ...

    @overload
    def __getitem__(self, number: slice) -> Sequence[Task]: ...

    def __getitem__(self, number: int | slice) -> Task | Sequence[Task]:
        from verifier.proof.workers import Task

        if isinstance(number, slice):
            return [self[k] for k in range(len(self))[number]]
        obligation = self.obligations[number]
        made = self.plan.canonical(obligation)
        texts = self.options.certificates or self.options.cache is not None
        claimed = obligation.kind in _CLAIMED
        return Task(
            number,
            "verifier.proof.proving:answer_task",
            (obligation.kind, made.part, made.extra, self.options.time_limit_s, texts),
            self.hard_s if claimed else DOUBT_S,
        )


def recheck_task(part: Job, verdict: Verdict, limit_s: float) -> bool:
    """Whether both solvers accept a certificate that was kept, its texts made anew from the rules."""
    from verifier.proof.checker import check_texts, texts_anew
    from verifier.proof.closed import EvidenceFailed, NotChecked

    certificate = certificate_of(verdict)
    assert certificate is not None
    try:
        check_texts(texts_anew(part, part.requirements[0], certificate), limit_s)
    except (EvidenceFailed, NotChecked, ValueError):
        return False
    return True


def answer_task(kind: Kind, part: Job, extra: Any, limit_s: float, texts: bool) -> Told:
    """The answer to an obligation, as a worker gives it. Raises: EvidenceFailed."""
    from verifier.proof.doubts import doubt_task
    from verifier.proof.reads import reads_task

    requirement = part.requirements[0]
    match kind:
        case "verdict":
            return decide_task(part, requirement, limit_s, texts)
        case "chain":
            assert isinstance(requirement.form, Never)
            assert isinstance(requirement.form.condition, Running)
            return Told(chain_task(part, requirement.form.condition.rule, limit_s), 0.0)
        case "doubt":
            return Told(doubt_task(part, requirement, DOUBT_WORK), 0.0)
        case "reads":
            return Told(reads_task(part, extra[0].rule, extra, DOUBT_WORK), 0.0)
        case _:
            assert_never(kind)


def _fault(text: str) -> ToolFault:
    """The fault of a worker; its whole traceback goes with it as a note."""
    fault = ToolFault(text.strip().splitlines()[-1].rpartition(".")[2])
    fault.add_note(text)
    return fault


def ready_to_prove() -> None:
    """Loads what proving needs: in a worker as it starts, or once before workers are forked."""
    import verifier.proof.decide  # noqa: F401
    from verifier.proof.solvers import load_solvers

    load_solvers()


def ready_to_check() -> None:
    """Loads what a certificate is checked anew with."""
    import verifier.proof.checker  # noqa: F401
    from verifier.proof.solvers import load_solvers

    load_solvers()


def _not_ended(pool: Pool | Cluster | None) -> AbstractContextManager[Any] | None:
    """A pool as a context that leaves its end to whoever began it; None if there is none."""
    return None if pool is None else nullcontext(pool)


def _undecided_chain(job: Job, rule: str, why: str) -> Diagnostic:
    return Diagnostic(
        "chain-undecided",
        Severity.WARNING,
        f"whether {rule} can be part of an endless chain could not be told: {why}",
        (Label(job.rule[rule].span),),
        "Give it more time with --time-limit, or break the chain with a `wait` or a guard.",
    )
