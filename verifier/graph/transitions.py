"""Rules compiled to guarded transitions: each way through the zero-time code between two rests.

Before: the flow of a body. After: transitions ``place --(event) [guard] / effects--> place``.
A guard speaks of the moment at which the body goes on: what is read behind a setting of the
same way is decided by what was set.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal, assert_never

from verifier.graph.flow import (
    ENDLESS,
    IDLE,
    Act,
    End,
    Flow,
    Rest,
    Test,
    flow_of,
)
from verifier.graph.logic import (
    Domains,
    atom_holds,
    implied,
    negated,
    satisfiable,
    simplified,
)
from verifier.model.job import (
    Becomes,
    Cancel,
    Condition,
    DayBegins,
    EndRun,
    Event,
    Fade,
    HasStayed,
    Is,
    Job,
    Level,
    Night,
    NightBegins,
    Not,
    Put,
    Rule,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Trigger,
    Value,
    Wait,
    WaitUntil,
)
from verifier.model.words import condition_words, duration, event_words
from verifier.source import Span

PATH_LIMIT = 64
"""The most ways that are told apart from one place and cause; more are summarised."""

STEP_LIMIT = 4096
"""The most steps that are followed from one place and cause."""

# ---------------------------------------------------------------- what a transition is


@dataclass(frozen=True, slots=True)
class OnEvent:
    """A trigger is handled: an event of an ``upon`` line."""

    event: Event


@dataclass(frozen=True, slots=True)
class OnExpiry:
    """A wait or a fade runs out, after so many seconds."""

    seconds: Fraction


@dataclass(frozen=True, slots=True)
class OnCondition:
    """The condition of a ``wait until`` is true."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class OnLimit:
    """The ``at most`` of a ``wait until`` runs out, after so many seconds."""

    seconds: Fraction


On = OnEvent | OnExpiry | OnCondition | OnLimit


@dataclass(frozen=True, slots=True)
class Read:
    """A condition of the body that a way reads, what it finds, and the place in the text."""

    condition: Condition
    truth: bool
    span: Span


Outcome = Literal["rests", "ends", "ended", "cancels itself", "endless candidate"]
"""How a way through a body comes out: at a rest, at the end of the body, at an ``end run``, at
a ``cancel`` of its own rule, or not at all (a loop with no rest in it)."""


@dataclass(frozen=True, slots=True)
class Transition:
    """One way from a rest of a rule to the next one.

    ``source`` and ``target`` are numbers of places (0 is idle, -1 of an endless candidate).
    The conditions of ``guard`` are all true at the beginning; ``effects`` follow in order, a
    fade that begins at the end among them. ``summarised``: more ways than are told apart lead
    here; then the guard is empty and the effects are all that one of them may have.
    ``spans`` are the places of the text that the way passes, in order; ``reads`` the conditions
    that it reads there (none if summarised).
    """

    rule: str
    source: int
    target: int
    on: On
    guard: tuple[Condition, ...]
    effects: tuple[Statement, ...]
    outcome: Outcome
    summarised: bool
    spans: tuple[Span, ...] = field(compare=False)
    reads: tuple[Read, ...] = field(compare=False)


def on_words(on: On) -> str:
    """What sets a transition off, in the contract's words."""
    match on:
        case OnEvent(event):
            return event_words(event)
        case OnExpiry(seconds):
            return f"after {duration(seconds)}"
        case OnCondition(condition):
            return condition_words(condition)
        case OnLimit(seconds):
            return f"timed out after {duration(seconds)}"
        case _:
            assert_never(on)


# ---------------------------------------------------------------- compiling


def transitions_of(
    job: Job, rule: Rule, flow: Flow | None = None, domains: Domains | None = None
) -> tuple[Transition, ...]:
    """Every transition of a rule, by its source and in order of the text.

    Ways that contradict themselves are left out, and with ``domains`` those that need a value
    outside them.
    """
    flow = flow or flow_of(rule)
    compiler = _Compiler(job, rule, flow, domains or Domains(job))
    found: list[Transition] = []
    for trigger in rule.triggers:
        found.extend(compiler.of_trigger(trigger))
    for step in flow.rests:
        found.extend(compiler.of_rest(step))
    return tuple(found)


def event_facts(job: Job, rule: Rule, event: Event) -> tuple[Condition, ...]:
    """What is certainly true when a trigger of this event is handled.

    Only what the surroundings alone set, and only where a trigger is handled in its own
    instant: they change no more before it ends.
    """
    at_once = job.site is None or job.site.reaction_s == 0
    if not at_once or rule.policy.waiting:
        return ()
    match event:
        case Becomes(atom) if _is_input(job, atom.subject):
            return (atom,)
        case HasStayed(timer) if _is_input(job, timer.atom.subject):
            return (timer,)
        case NightBegins():
            return (Night(),)
        case DayBegins():
            return (Not(Night()),)
        case _:
            return ()


def _is_input(job: Job, name: str) -> bool:
    return name in job.point and job.point[name].kind.is_input


_Settings = tuple[tuple[str, Value, frozenset[Value]], ...]


@dataclass(frozen=True)
class _Way:
    """A way as far as it has come."""

    rule: str
    at: int
    guard: tuple[Condition, ...]
    effects: tuple[Statement, ...]
    spans: tuple[Span, ...]
    reads: tuple[Read, ...]
    put: Mapping[str, tuple[Value, ...]]
    cancelled: frozenset[str]
    timed_out: bool | None
    rounds: frozenset[tuple[int, _Settings, frozenset[str], bool | None]]

    @property
    def settings(self) -> _Settings:
        """Each point that the way has set: what it is now, and all that it was on the way."""
        return tuple((name, put[-1], frozenset(put)) for name, put in self.put.items())

    def seeing(self, span: Span) -> _Way:
        """The way, past a place of the text."""
        return replace(self, spans=(*self.spans, span))

    def passing(self, statement: Statement) -> _Way:
        """The way, past a statement that does something."""
        return replace(self.seeing(statement.span), effects=(*self.effects, statement))

    def leaf(self, leaf: Condition) -> bool | None:
        """What a leaf is by what the way has done; None: as it was at the beginning."""
        match leaf:
            case Is(subject) | Level(subject):
                settings = self.put.get(subject)
                return None if settings is None else atom_holds(leaf, settings[-1])
            case Stayed(atom):
                settings = self.put.get(atom.subject, ())
                return None if all(atom_holds(atom, value) for value in settings) else False
            case Running(rule):
                return rule == self.rule or (False if rule in self.cancelled else None)
            case TimedOut():
                return self.timed_out
            case _:
                return None


class _Compiler:
    def __init__(self, job: Job, rule: Rule, flow: Flow, domains: Domains) -> None:
        self.rule = rule
        self.flow = flow
        self.job = job
        self.domains = domains
        self.source = IDLE
        self.on: On = OnExpiry(Fraction(0))

    def of_trigger(self, trigger: Trigger) -> Iterator[Transition]:
        """The transitions from idle by one ``upon`` line."""
        guard = tuple(g for g in (self.rule.provided, trigger.guard) if g is not None)
        facts = event_facts(self.job, self.rule, trigger.event)
        if satisfiable((*facts, *guard), self.domains):
            way = self._begin(self.flow.entry, guard, trigger.span, timed_out=False)
            yield from self._run(IDLE, OnEvent(trigger.event), facts, way)

    def of_rest(self, rest: Rest) -> Iterator[Transition]:
        """The transitions from one rest."""
        statement = rest.statement
        match statement:
            case Wait(seconds) | Fade(_, _, seconds):
                way = self._begin(rest.next, (), statement.span, timed_out=None)
                yield from self._run(rest.place, OnExpiry(seconds), (), way)
            case WaitUntil(condition, limit):
                way = self._begin(rest.next, (), statement.span, timed_out=False)
                if satisfiable((condition,), self.domains):
                    on = OnCondition(condition)
                    yield from self._run(rest.place, on, (condition,), way)
                if limit is not None:
                    way = replace(way, timed_out=True)
                    yield from self._run(rest.place, OnLimit(limit), (), way)
            case _:
                assert_never(statement)

    def _begin(
        self, at: int, guard: tuple[Condition, ...], span: Span, *, timed_out: bool | None
    ) -> _Way:
        nothing: frozenset[str] = frozenset()
        return _Way(self.rule.name, at, guard, (), (span,), (), {}, nothing, timed_out, frozenset())

    def _run(
        self, source: int, on: On, facts: tuple[Condition, ...], begin: _Way
    ) -> Iterator[Transition]:
        """All ways from one beginning, or their summary."""
        self.source, self.on = source, on
        found: list[Transition] = []
        waiting: list[_Way | Transition] = [begin]
        for _ in range(STEP_LIMIT):
            if not waiting or len(found) > PATH_LIMIT:
                break
            way = waiting.pop()
            if isinstance(way, Transition):
                found.append(way)
            else:
                waiting.extend(reversed(self._step((*facts, *way.guard), way)))
        if waiting or len(found) > PATH_LIMIT:
            found = list(self._summary(begin))
        yield from found

    def _step(self, known: tuple[Condition, ...], way: _Way) -> tuple[_Way | Transition, ...]:
        """What becomes of a way: its end, or the ways in which it goes on, in order of the text."""
        step = self.flow.steps[way.at]
        match step:
            case Act(Put(point, value) as statement, following):
                put = {**way.put, point: (*way.put.get(point, ()), value)}
                return (replace(way.passing(statement), at=following, put=put),)
            case Act(Cancel(name) as statement, following):
                passed = way.passing(statement)
                if name == self.rule.name:
                    return (self._close(passed, IDLE, "cancels itself"),)
                return (replace(passed, at=following, cancelled=way.cancelled | {name}),)
            case Rest(place, Fade() as statement):
                return (self._close(way.passing(statement), place, "rests"),)
            case Rest(place, Wait() as statement):
                return (self._close(way.seeing(statement.span), place, "rests"),)
            case Rest(place, WaitUntil(condition) as statement, following):
                way = way.seeing(statement.span)
                passes = self._assume(way, condition, statement.span, True, known)
                rests = self._assume(way, condition, statement.span, False, known)
                on = () if passes is None else (replace(passes, at=following, timed_out=False),)
                ends = () if rests is None else (self._close(rests, place, "rests"),)
                return (*on, *ends)
            case Test():
                return self._test(known, way, step)
            case End(None):
                return (self._close(way, IDLE, "ends"),)
            case End(EndRun() as statement):
                return (self._close(way.seeing(statement.span), IDLE, "ended"),)
            case _:
                raise AssertionError(f"transitions: no such step: {step}")

    def _test(
        self, known: tuple[Condition, ...], way: _Way, step: Test
    ) -> tuple[_Way | Transition, ...]:
        here = (way.at, way.settings, way.cancelled, way.timed_out)
        if step.of == "until":
            if here in way.rounds:
                return (self._close(way, ENDLESS, "endless candidate"),)
            way = replace(way, rounds=way.rounds | {here})
        way = way.seeing(step.span)
        result = []
        for truth, following in ((True, step.if_true), (False, step.if_false)):
            guarded = self._assume(way, step.condition, step.span, truth, known)
            if guarded is not None:
                result.append(replace(guarded, at=following))
        return tuple(result)

    def _close(self, way: _Way, target: int, outcome: Outcome) -> Transition:
        return Transition(
            rule=self.rule.name,
            source=self.source,
            target=target,
            on=self.on,
            guard=way.guard,
            effects=way.effects,
            outcome=outcome,
            summarised=False,
            spans=tuple(dict.fromkeys(way.spans)),
            reads=way.reads,
        )

    def _summary(self, begin: _Way) -> Iterator[Transition]:
        """One transition for each place that the text lets a way come to."""
        seen: list[int] = []
        waiting = [begin.at]
        effects: list[Statement] = []
        spans: list[Span] = list(begin.spans)
        targets: dict[int, Outcome] = {}
        while waiting:
            at = waiting.pop()
            if at in seen:
                continue
            seen.append(at)
            match self.flow.steps[at]:
                case Act(Cancel(name) as statement) if name == self.rule.name:
                    effects.append(statement)
                    targets.setdefault(IDLE, "cancels itself")
                case Act(statement, following):
                    effects.append(statement)
                    spans.append(statement.span)
                    waiting.append(following)
                case Rest(place, statement, following):
                    targets.setdefault(place, "rests")
                    if isinstance(statement, Fade):
                        effects.append(statement)
                    if isinstance(statement, WaitUntil):
                        waiting.append(following)
                case Test(_, of, if_true, if_false):
                    waiting.extend((if_false, if_true))
                    if of == "until" and self.flow.goes_round(at):
                        targets.setdefault(ENDLESS, "endless candidate")
                case End(statement):
                    targets.setdefault(IDLE, "ends" if statement is None else "ended")
        way = replace(begin, guard=(), effects=tuple(effects), spans=tuple(spans))
        for target in sorted(targets, key=lambda number: (number == ENDLESS, number)):
            yield replace(self._close(way, target, targets[target]), summarised=True)

    def _assume(
        self, way: _Way, condition: Condition, span: Span, truth: bool, known: tuple[Condition, ...]
    ) -> _Way | None:
        """The way with a condition read as ``truth``; None if it cannot be that."""
        wanted = condition if truth else negated(condition)
        rest = simplified(wanted, way.leaf)
        way = replace(way, reads=(*way.reads, Read(condition, truth, span)))
        if isinstance(rest, bool):
            return way if rest else None
        if not satisfiable((*known, rest), self.domains):
            return None
        if implied(rest, known, self.domains):
            return way
        return replace(way, guard=(*way.guard, rest))
