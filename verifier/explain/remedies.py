"""What could put a rule right, as changes of its text: the usual remedies of the trade.

Nothing here is known to work: :mod:`verifier.explain.mending` tries each on the failing case and
then proves it. A remedy is proposed where the rules have the shape that it is for: a trigger that
asks for night has a twin for dusk, an `off` that another rule needs asks whether that one runs.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.edits import Edit, Lines
from verifier.explain.playback import Played
from verifier.graph.slice import slice_job
from verifier.model.job import (
    Always,
    And,
    Becomes,
    Before,
    Condition,
    EndRun,
    Event,
    FaultKind,
    HasStayed,
    If,
    Implies,
    Is,
    Job,
    Level,
    Never,
    Night,
    NightBegins,
    Not,
    Or,
    PointKind,
    Policy,
    PowerReturns,
    Put,
    Requirement,
    Rule,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Trigger,
    Wait,
    WaitUntil,
    WhenFor,
    WhenWithin,
    atoms_and_leaves,
    can_wait,
    conditions_and_events_of,
    set_by,
    statements_of,
)
from verifier.model.words import duration, event_words, level, number
from verifier.model.words import words as in_words
from verifier.source import Sources, Span

_POLICIES = {
    "retriggerable": (Policy(1, 0, True), "starts again with each trigger", 1),
    "non-retriggerable": (Policy(1, 0, False), "runs to its end", 4),
}
_POLICY_LINE = re.compile(r"^[ \t]*(non-retriggerable|retriggerable|at once.*)[ \t]*$", re.M)


@dataclass(frozen=True, slots=True)
class Figure:
    """A duration that can be chosen: where it stands, what it is now, and whether more is better."""

    now_s: Fraction
    longer: bool
    edit: Callable[[Fraction], Edit]
    fresh: bool = False
    """Whether there is none yet; ``now_s`` is then the one to begin with."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change of the text: in words, where, what it costs (the less, the sooner it is tried).

    With a ``figure`` there are no edits: the figure is still to be found.
    """

    words: str
    span: Span
    edits: tuple[Edit, ...]
    cost: int
    figure: Figure | None = None


def remedies(
    sources: Sources, job: Job, requirement: Requirement, failed: Played
) -> tuple[Remedy, ...]:
    """What could put right a case that fails, the likeliest first."""
    found = list(_Remedies(sources, job, requirement, failed).all())
    seen: dict[tuple[tuple[Span, str], ...], Remedy] = {}
    for each in sorted(found, key=lambda remedy: remedy.cost):
        key = tuple((edit.span, edit.text) for edit in each.edits) or ((each.span, each.words),)
        seen.setdefault(key, each)
    return tuple(seen.values())


class _Remedies:
    def __init__(
        self, sources: Sources, job: Job, requirement: Requirement, failed: Played
    ) -> None:
        self.lines = Lines(sources)
        self.job, self.requirement = job, requirement
        inside = {rule.name for rule in slice_job(job, requirement).rules}
        self.outputs = self._outputs()
        spans = {span for step in failed.steps for span in step.because}
        self.rules = [
            rule
            for rule in job.rules
            if rule.name in inside
            and (self._drives(rule) or any(span in spans for span in _spans(rule)))
        ]
        self.power = job.considers(FaultKind.POWER_CUTS)

    def _outputs(self) -> tuple[str, ...]:
        """The outputs that the requirement speaks of."""
        conditions, events = conditions_and_events_of(self.requirement.form)
        names = [
            leaf.subject
            for c in conditions
            for leaf in atoms_and_leaves(c)
            if isinstance(leaf, Is | Level)
        ]
        names.extend(e.atom.subject for e in events if isinstance(e, Becomes))
        return tuple(
            dict.fromkeys(n for n in names if n in self.job.point and self._set_by_rules(n))
        )

    def _set_by_rules(self, name: str) -> bool:
        kind = self.job.point[name].kind
        return kind.is_output or kind is PointKind.FLAG

    def _drives(self, rule: Rule) -> bool:
        return any(set_by(s) in self.outputs for s in statements_of(rule.body))

    def all(self) -> Iterator[Remedy]:
        for rule in self.rules:
            yield from self._triggers(rule)
            yield from self._guards(rule)
            yield from self._policy(rule)
            yield from self._waits(rule)
            yield from self._offs(rule)
            yield from self._missing_offs(rule)
        yield from self._wider()

    # ------------------------------------------------------------ triggers

    def _add_trigger(self, rule: Rule, words: str, why: str, cost: int) -> Iterator[Remedy]:
        if any(self.lines.text(t.span).split() == words.split() for t in rule.triggers):
            return
        last = rule.triggers[-1].span
        yield Remedy(
            f"{rule.name} is triggered {why} too: “{words}”",
            last,
            (self.lines.inserted_after(last, words),),
            cost,
        )

    def _triggers(self, rule: Rule) -> Iterator[Remedy]:
        if not rule.triggers:
            return
        dusk = any(isinstance(t.event, NightBegins) for t in rule.triggers)
        for trigger in rule.triggers:
            rest = _without_night(trigger.guard)
            if rest is not None and isinstance(trigger.event, Becomes) and not dusk:
                words = f"upon night begins provided {_all_words(trigger.event.atom, *rest)}"
                yield from self._add_trigger(rule, words, "when night begins meanwhile", 1)
            yield from self._changed_trigger(rule, trigger)
        restored = any(isinstance(t.event, PowerReturns) for t in rule.triggers)
        if self.power and not restored and can_wait(rule):
            for name in dict.fromkeys(set_by(s) for s in statements_of(rule.body)):
                if name in self.outputs:
                    words = f"upon power returns provided {name} is on"
                    yield from self._add_trigger(rule, words, "when power returns", 1)

    def _changed_trigger(self, rule: Rule, trigger: Trigger) -> Iterator[Remedy]:
        event = trigger.event
        if not isinstance(event, Becomes) or not isinstance(event.atom, Is):
            return
        subject, text = event.atom.subject, self.lines.text(trigger.span)
        old = event_words(event)
        if old not in text:
            return
        yield Remedy(
            f"{rule.name} is triggered by every change of {subject}",
            trigger.span,
            (Edit(trigger.span, text.replace(old, f"{subject} changes", 1)),),
            2,
        )
        stayed = old.replace(" becomes ", " has stayed ")
        for seconds in self._limits() if subject in self.job.point else ():
            yield Remedy(
                f"{rule.name} is triggered only when {subject} has stayed {event.atom.value} for "
                f"{duration(seconds)}",
                trigger.span,
                (Edit(trigger.span, text.replace(old, f"{stayed} for {duration(seconds)}", 1)),),
                4,
            )
        first = rule.body[0] if rule.body else None
        if isinstance(first, Wait):
            new = f"{old.replace(' becomes ', ' has stayed ')} for {self._figure_text(first)}"
            yield Remedy(
                f"{rule.name} is triggered when {subject} has stayed {event.atom.value} for "
                f"{duration(first.for_s)}, instead of waiting",
                trigger.span,
                (
                    Edit(trigger.span, text.replace(old, new, 1)),
                    self.lines.removed(first.span),
                ),
                2,
            )

    def _figure_text(self, wait: Wait) -> str:
        return self.lines.text(wait.span).removeprefix("wait").strip()

    def _wider(self) -> Iterator[Remedy]:
        """The event of the requirement as a trigger of a rule that sets what is asked for."""
        form = self.requirement.form
        if not isinstance(form, WhenWithin | WhenFor):
            return
        scope = self.requirement.scope
        guard = "" if scope is None else f" provided {in_words(scope)}"
        for rule in self.rules:
            first = next((s for s in rule.body if isinstance(s, Put)), None)
            if first is None or first.point not in self.outputs or first.value in ("off", 0, "no"):
                continue
            for event in form.events:
                if not any(t.event == event for t in rule.triggers) and _of_input(self.job, event):
                    words = f"upon {event_words(event)}{guard}"
                    yield from self._add_trigger(rule, words, f"by {event_words(event)}", 2)

    # ------------------------------------------------------------ guards and policy

    def _guards(self, rule: Rule) -> Iterator[Remedy]:
        for trigger in rule.triggers:
            text = self.lines.text(trigger.span)
            if trigger.guard is not None:
                head = re.split(r"\s+provided\b", text, maxsplit=1)[0]
                yield Remedy(
                    f"{rule.name} does not ask for “{in_words(trigger.guard)}”",
                    trigger.span,
                    (Edit(trigger.span, head),),
                    5,
                )
            for guard in self._wanted_guards():
                words = in_words(guard)
                if trigger.guard is None:
                    new = f"{text} provided {words}"
                else:
                    head = re.split(r"\s+provided\b", text, maxsplit=1)[0]
                    new = f"{head} provided {_all_words(trigger.guard, guard)}"
                yield Remedy(
                    f"{rule.name} asks for “{words}” at this trigger",
                    trigger.span,
                    (Edit(trigger.span, new),),
                    3,
                )

    def _wanted_guards(self) -> Iterator[Condition]:
        """What has to be so for an output to be on, by the requirement."""
        match self.requirement.form:
            case Never(And(items)):
                others = [c for c in items if _subject(c) not in self.outputs]
                if len(others) < len(items):
                    yield from (_denied(c) for c in others)
            case Always(Implies(left, right)) if _subject(left) in self.outputs:
                if not any(isinstance(leaf, Running) for leaf in atoms_and_leaves(right)):
                    yield right
            case Never(condition) if (
                self.requirement.scope is not None and _subject(condition) in self.outputs
            ):
                yield _denied(self.requirement.scope)
            case _:
                return

    def _policy(self, rule: Rule) -> Iterator[Remedy]:
        if not can_wait(rule) or not rule.triggers:
            return
        first = self.lines.line_before(rule.triggers[0].span)
        head = self.lines.sources.by_name[rule.span.file].text[rule.span.end : first.start]
        found = _POLICY_LINE.search(head)
        for word, (policy, words, cost) in _POLICIES.items():
            if rule.policy == policy:
                continue
            if found is None:
                edit = self.lines.inserted_before(rule.triggers[0].span, word)
            else:
                begin = rule.span.end + found.start(1)
                edit = Edit(Span(rule.span.file, begin, rule.span.end + found.end(1)), word)
            yield Remedy(f"{rule.name} {words}: {word}", rule.span, (edit,), cost)

    # ------------------------------------------------------------ waits

    def _waits(self, rule: Rule) -> Iterator[Remedy]:
        statements = list(statements_of(rule.body))
        for statement in statements:
            match statement:
                case Wait(for_s, span):
                    yield from self._stays(rule, statement)
                    for longer in (True, False):
                        figure = self._figure(span, r"wait\s+", for_s, longer)
                        if figure is not None:
                            what = "longer" if longer else "shorter"
                            yield Remedy(f"{rule.name} waits {what}", span, (), 3, figure)
                case WaitUntil(condition, at_most_s, span):
                    yield from self._until(rule, condition, at_most_s, span)
                case _:
                    pass

    def _figure(self, span: Span, before: str, now_s: Fraction, longer: bool) -> Figure | None:
        """The figure after some words of a statement: as it stands there, or in its setting."""
        text = self.lines.text(span)
        found = re.search(before + r"(.+?)\s*$", text)
        if found is None:
            return None
        name = found[1]
        place = Span(span.file, span.start + found.start(1), span.start + found.end(1))
        setting = next((s for s in self.job.settings if s.name == name), None)
        if setting is not None:
            file = self.lines.sources.by_name[setting.span.file]
            end = self.lines.line_after(setting.span).start
            rest = file.text[setting.span.end : end]
            figure = re.match(r"\s*(\d[^#\n]*?)\s*(?=#|\n|$)", rest)
            if figure is None:
                return None
            begin = setting.span.end + figure.start(1)
            place = Span(setting.span.file, begin, setting.span.end + figure.end(1))
        elif not name[:1].isdigit():
            return None
        return Figure(now_s, longer, lambda seconds: Edit(place, duration(seconds)))

    def _stays(self, rule: Rule, wait: Wait) -> Iterator[Remedy]:
        """A time from the moment at which somebody is seen: from when nobody is seen any more."""
        for trigger in rule.triggers:
            atom = trigger.event.atom if isinstance(trigger.event, Becomes) else None
            if not isinstance(atom, Is) or atom.value not in ("occupied", "open"):
                continue
            away = {"occupied": "vacant", "open": "shut"}[atom.value]
            words = f"wait until {atom.subject} has stayed {away} for {self._figure_text(wait)}"
            yield Remedy(
                f"{rule.name} counts its {duration(wait.for_s)} from when {atom.subject} is {away}",
                wait.span,
                (Edit(wait.span, words),),
                2,
            )

    def _until(
        self, rule: Rule, condition: Condition, at_most_s: Fraction | None, span: Span
    ) -> Iterator[Remedy]:
        for leaf in atoms_and_leaves(condition):
            door = self.job.door_of_point.get(_subject(leaf))
            if door is not None and door.moving_by is not None and _subject(leaf) != door.moving_by:
                words = f"wait until {door.moving_by} is off"
                if at_most_s is not None:
                    words += f", at most {duration(at_most_s)}"
                yield Remedy(
                    f"{rule.name} waits until {door.label or door.name} has stopped, wherever that is",
                    span,
                    (Edit(span, words),),
                    2,
                )
        text = self.lines.text(span)
        if at_most_s is None:
            for seconds in self._limits():
                yield Remedy(
                    f"{rule.name} waits no longer than {duration(seconds)}",
                    span,
                    (Edit(span, f"{text}, at most {duration(seconds)}"),),
                    3,
                )
                limited = Figure(seconds, False, _limit(span, text), fresh=True)
                yield Remedy(f"{rule.name} waits no longer than", span, (), 4, limited)
            return
        head = re.split(r",?\s*at most\b", text, maxsplit=1)[0]
        edits = [Edit(span, head)]
        edits.extend(self.lines.removed(s.span) for s in _timed_out(rule.body))
        yield Remedy(f"{rule.name} waits without a limit", span, tuple(edits), 2)
        for longer in (True, False):
            figure = self._figure(span, r"at most\s+", at_most_s, longer)
            if figure is not None:
                what = "a longer" if longer else "a shorter"
                yield Remedy(f"the wait of {rule.name} has {what} limit", span, (), 3, figure)

    def _limits(self) -> list[Fraction]:
        """Limits that a wait could have: what the requirement says, what a door takes at most."""
        form = self.requirement.form
        found = [
            getattr(form, n)
            for n in ("most_s", "within_s", "for_s", "in_s", "least_s")
            if hasattr(form, n)
        ]
        found.extend(door.travel_most_s for door in self.job.doors)
        return list(dict.fromkeys(f for f in found if f)) or [Fraction(600)]

    # ------------------------------------------------------------ offs

    def _offs(self, rule: Rule) -> Iterator[Remedy]:
        for statement in statements_of(rule.body):
            if not isinstance(statement, Put) or statement.point not in self.outputs:
                continue
            if statement.value in ("on", "yes", Fraction(100)):
                continue
            text = self.lines.text(statement.span)
            others = [
                other.name
                for other in self.job.rules
                if other is not rule
                and can_wait(other)
                and any(set_by(s) == statement.point for s in statements_of(other.body))
            ]
            for other in others:
                yield self._asks_first(rule, statement, text, other)
                yield Remedy(
                    f"{rule.name} ends a run of {other} when it starts",
                    rule.span,
                    (self.lines.inserted_before(rule.body[0].span, f"cancel {other}"),),
                    4,
                )
            if others:
                alone = next((s for s in _alone_in(rule, statement)), statement)
                yield Remedy(
                    f"{rule.name} leaves “{text}” to other rules",
                    statement.span,
                    (self.lines.removed(alone.span),),
                    6,
                )
            yield from self._warned(rule, statement)

    def _asks_first(self, rule: Rule, statement: Put, text: str, other: str) -> Remedy:
        """The ``off`` only if the other rule does not run; an ``if`` of its own already asks that."""
        words = f"not {other} is running"
        for outer in _alone_in(rule, statement):
            branch = outer.branches[0]
            inside = self.lines.text(branch.span)
            condition = re.split(r"\bthen\b", inside, maxsplit=1)[0].rstrip()
            place = Span(branch.span.file, branch.span.start, branch.span.start + len(condition))
            asked = any(isinstance(x, Running) for x in atoms_and_leaves(branch.condition))
            return Remedy(
                f"{rule.name} does “{text}” only if {other} does not run",
                branch.span,
                (Edit(place, f"{condition} and {words}" if asked else words),),
                2,
            )
        set_in = self.lines.indent(statement.span)
        new = f"if {words} then\n{set_in}  {text}\n{set_in}end if"
        return Remedy(
            f"{rule.name} does “{text}” only if {other} does not run",
            statement.span,
            (Edit(statement.span, new),),
            3,
        )

    def _warned(self, rule: Rule, statement: Put) -> Iterator[Remedy]:
        """A level to warn before it goes dark."""
        form = self.requirement.form
        if not isinstance(form, Before) or statement.value not in ("off", Fraction(0)):
            return
        for leaf in atoms_and_leaves(form.condition):
            if isinstance(leaf, Level) and leaf.subject == statement.point and leaf.percent > 0:
                percent = leaf.percent if leaf.comparison != "below" else leaf.percent / 2
                yield Remedy(
                    f"{rule.name} dims {leaf.subject} to {level(percent)} for "
                    f"{duration(form.for_s)} before it is off",
                    statement.span,
                    (
                        self.lines.inserted_before(
                            statement.span,
                            f"{leaf.subject} {number(percent)} %",
                            f"wait {duration(form.for_s)}",
                        ),
                    ),
                    2,
                )

    def _missing_offs(self, rule: Rule) -> Iterator[Remedy]:
        """An ``off`` where a branch ends without one."""
        statements = list(statements_of(rule.body))
        for point in self.outputs:
            values = [s.value for s in statements if isinstance(s, Put) and s.point == point]
            if not values or not any(v not in ("off", "no", Fraction(0)) for v in values):
                continue
            off = f"{point} {'no' if self.job.point[point].kind is PointKind.FLAG else 'off'}"
            for statement in statements:
                match statement:
                    case EndRun(span):
                        yield Remedy(
                            f"{rule.name} does “{off}” before it ends there",
                            span,
                            (self.lines.inserted_before(span, off),),
                            3,
                        )
                    case If(branches, otherwise, span):
                        if not otherwise and branches[-1].body:
                            last = branches[-1].body[-1].span
                            set_in = self.lines.indent(span)
                            edit = self.lines.inserted_after(
                                last, f"{set_in}else", f"{set_in}  {off}", indent=""
                            )
                            words = f"{rule.name} does “{off}” where its condition is not so, too"
                            yield Remedy(words, span, (edit,), 3)
                    case _:
                        pass
            last = rule.body[-1].span
            if set_by(rule.body[-1]) != point:
                words = f"{rule.name} does “{off}” at its end"
                yield Remedy(words, last, (self.lines.inserted_after(last, off),), 3)


# ---------------------------------------------------------------- looking at rules


def _limit(span: Span, text: str) -> Callable[[Fraction], Edit]:
    """The edit that gives a wait a limit."""
    return lambda seconds: Edit(span, f"{text}, at most {duration(seconds)}")


def _spans(rule: Rule) -> list[Span]:
    return [*(t.span for t in rule.triggers), *(s.span for s in statements_of(rule.body))]


def _subject(condition: Condition) -> str:
    match condition:
        case Is(subject) | Level(subject):
            return subject
        case Stayed(atom):
            return atom.subject
        case Not(item):
            return _subject(item)
        case _:
            return ""


def _alone_in(rule: Rule, statement: Statement) -> list[If]:
    """The ``if`` that has nothing but this statement in it."""
    return [
        outer
        for outer in statements_of(rule.body)
        if isinstance(outer, If)
        and not outer.otherwise
        and [branch.body for branch in outer.branches] == [(statement,)]
    ]


def _all_words(*conditions: Condition) -> str:
    """Several conditions at once, as the language writes them: an `or` in parentheses."""
    items = tuple(item for c in conditions for item in (c.items if isinstance(c, And) else (c,)))
    return in_words(And(items) if len(items) > 1 else items[0])


def _denied(condition: Condition) -> Condition:
    match condition:
        case Not(item):
            return item
        case And(items):
            return Or(tuple(_denied(c) for c in items))
        case _:
            return Not(condition)


def _without_night(guard: Condition | None) -> tuple[Condition, ...] | None:
    """What a guard asks besides night; None if it does not ask for night."""
    match guard:
        case Night():
            return ()
        case And(items) if Night() in items:
            return tuple(item for item in items if item != Night())
        case _:
            return None


def _timed_out(body: tuple[Statement, ...]) -> list[If]:
    """The ``if timed out`` of a body."""
    return [
        s
        for s in statements_of(body)
        if isinstance(s, If) and any(isinstance(b.condition, TimedOut) for b in s.branches)
    ]


def _of_input(job: Job, event: Event) -> bool:
    match event:
        case Becomes(atom) | HasStayed(Stayed(atom)):
            return atom.subject in job.point and job.point[atom.subject].kind.is_input
        case NightBegins() | PowerReturns():
            return True
        case _:
            name = getattr(event, "button", getattr(event, "subject", ""))
            return name in job.point and job.point[name].kind.is_input
