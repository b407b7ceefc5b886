"""A model in the Murphi language under construction: its variables, its moves, and how conditions
and events are read.

Written from the contract alone (``language.md`` and the checked job), as a second reading of it:
nothing here comes from the interpreter or the prover, whose mistakes it is to find.

Time goes in ticks of half the greatest common divisor of all durations (15: closed bounds). A
happening begins an instant; ``phase`` is 1 until it is settled, 0 then, 2 before the start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd
from typing import Literal

from verifier.model.job import (
    And,
    AssumeAlways,
    AssumeStays,
    Atom,
    Becomes,
    Changes,
    Condition,
    Event,
    Fade,
    FaultKind,
    HasStayed,
    Implies,
    Is,
    Job,
    Level,
    MeasureLongest,
    Night,
    Not,
    Or,
    Point,
    PointKind,
    Put,
    Requirement,
    Running,
    Stayed,
    TimedOut,
    Wait,
    WaitUntil,
    atoms_and_leaves,
    conditions_and_events_of,
    read_by_requirement,
    read_by_rule,
    statements_of,
)


class NotExported(Exception):
    """The job uses something that is not written in Murphi; ``args[0]`` says what."""


Mode = Literal["stop", "all", "count", "world"]
"""``stop`` at the first failure; search ``all`` for an endless chain, noting failures; ``count``
the happenings of each failure up to a limit; the ``world`` alone: can time always go on?"""


def name_of(name: str) -> str:
    """A name as Murphi takes it."""
    return name.replace(".", "__")


def all_of(items: Iterable[str]) -> str:
    """A conjunction."""
    given = [item for item in items if item != "true"]
    if "false" in given:
        return "false"
    return "(" + " & ".join(given) + ")" if given else "true"


def any_of(items: Iterable[str]) -> str:
    """A disjunction."""
    given = [item for item in items if item != "false"]
    if "true" in given:
        return "true"
    return "(" + " | ".join(given) + ")" if given else "false"


def no(item: str) -> str:
    """A negation."""
    return {"true": "false", "false": "true"}.get(item, f"(!{item})")


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable of the model: ``length`` 0 is none of an array's."""

    name: str
    kind: str
    first: str
    length: int = 0


@dataclass(slots=True)
class Move:
    """One rule of the model; ``over`` are ruleset parameters."""

    name: str
    guard: str
    action: list[str]
    over: list[str] = field(default_factory=list)


class Model:
    """What is gathered of one job and one requirement."""

    def __init__(
        self,
        job: Job,
        requirement: Requirement | None,
        mode: Mode,
        *,
        split: int = 2,
        happenings: int = 0,
        measure_s: Fraction | None = None,
    ) -> None:
        self.job = job
        self.requirement = requirement
        self.mode = mode
        self.happenings = happenings
        self.measure_s = measure_s
        self.variables: list[Variable] = []
        self.procedures: list[str] = []
        self.moves: list[Move] = []
        self.choices: list[tuple[str, str]] = []
        self.begin_guard: list[str] = []
        self.begin: list[str] = []
        self.tick_guard: list[str] = []
        self.tick: list[str] = []
        self.quiet: list[str] = []
        self.may_last: list[str] = []
        self.properties: list[str] = []
        self.cuts = job.considers(FaultKind.POWER_CUTS)
        self.refuse()
        self.unit = self.unit_of() / split
        self.levels = {p.name: self.levels_of(p) for p in job.points}
        self.rule_timers = self.timers_of(of_rules=True)
        self.claim_timers = self.timers_of(of_rules=False)
        self.claim_events: tuple[Event, ...] = ()
        if requirement is not None:
            self.claim_events = conditions_and_events_of(requirement.form)[1]

    # ------------------------------------------------------------ what is not exported

    def refuse(self) -> None:
        """Raises: NotExported, of a job with something that is not written here."""
        for fault in self.job.faults:
            if fault.kind is not FaultKind.POWER_CUTS:
                raise NotExported(f"fault: {fault.kind.value}")
        site = self.job.site
        if site is not None and (site.latitude_deg is not None or site.reaction_s):
            raise NotExported("a site's sun or reaction time")
        for rule in self.job.rules:
            if any(isinstance(s, Fade) for s in statements_of(rule.body)):
                raise NotExported("fade")
        for assumption in self.job.assumptions:
            self.refuse_assumption(assumption)

    def refuse_assumption(self, assumption: AssumeAlways | AssumeStays) -> None:
        """Raises: NotExported, of an assumption about more than the surroundings set."""
        leaves: list[Condition]
        if isinstance(assumption, AssumeStays):
            leaves = [assumption.atom]
        else:
            leaves = list(atoms_and_leaves(assumption.condition))
        for leaf in leaves:
            match leaf:
                case Night():
                    continue
                case Is(subject) if self.is_outside(subject):
                    continue
                case Is() | Level():
                    raise NotExported("assumption about an output or flag (no job of the contract)")
                case _:
                    raise NotExported(f"assumption with {type(leaf).__name__}")

    def is_outside(self, subject: str) -> bool:
        """Whether the surroundings set it."""
        if subject in self.job.door or subject in self.job.room:
            return True
        return self.job.point[subject].kind.is_input

    # ------------------------------------------------------------ time

    def durations(self) -> list[Fraction]:
        """Every duration that anything is compared with."""
        job = self.job
        found: list[Fraction | None] = []
        for point in job.points:
            found += [point.holds_s, point.rearm_s]
        for door in job.doors:
            found += [door.travel_least_s, door.travel_most_s]
        for room in job.rooms:
            found += [room.still_s, room.noticed_s]
        for rule in job.rules:
            for statement in statements_of(rule.body):
                match statement:
                    case Wait(for_s):
                        found.append(for_s)
                    case WaitUntil(_, most):
                        found.append(most)
                    case _:
                        pass
        found += [a.seconds for a in job.assumptions if isinstance(a, AssumeStays)]
        found += [timer.for_s for timer in self.timers_of(of_rules=True)]
        if self.requirement is not None:
            found += [timer.for_s for timer in self.timers_of(of_rules=False)]
            form = self.requirement.form
            found += [
                getattr(form, field)
                for field in ("within_s", "for_s", "most_s", "least_s", "in_s")
                if hasattr(form, field)
            ]
            found += [self.requirement.allowing_s, self.measure_s]
        return [d for d in found if d]

    def unit_of(self) -> Fraction:
        """The greatest common divisor of all durations; 1 s if there is none."""
        given = self.durations() or [Fraction(1)]
        below = 1
        for duration in given:
            below = below * duration.denominator // gcd(below, duration.denominator)
        above = 0
        for duration in given:
            above = gcd(above, int(duration * below))
        return Fraction(above, below)

    def ticks(self, seconds: Fraction | None) -> int:
        """A duration in ticks; none is 0."""
        return int((seconds or Fraction(0)) / self.unit)

    # ------------------------------------------------------------ writing

    def variable(self, name: str, kind: str, first: str, length: int = 0) -> str:
        """A new variable; returns its name."""
        self.variables.append(Variable(name, kind, first, length))
        return name

    def procedure(self, head: str, body: Iterable[str], local: str = "") -> None:
        """A new procedure."""
        lines = "\n  ".join(body)
        self.procedures.append(f"procedure {head};\n{local}begin\n  {lines}\nend;\n")

    def function(self, head: str, value: str) -> None:
        """A new function that gives a truth value."""
        self.procedures.append(f"function {head}: boolean;\nbegin\n  return {value};\nend;\n")

    @property
    def calm(self) -> str:
        """When a happening may begin."""
        given = ["phase = 0"]
        if self.mode == "count":
            given += ["!dead", f"hc < {self.happenings}"]
        return all_of(given)

    def outside(
        self, name: str, guard: str, action: list[str], over: list[str] | None = None
    ) -> None:
        """A happening that the surroundings bring about."""
        self.moves.append(
            Move(name, all_of([self.calm, "!quiet", guard]), ["happen();", *action, "finish();"],
                 over or [])
        )  # fmt: skip

    def expiry(
        self, name: str, guard: str, action: list[str], over: list[str] | None = None
    ) -> None:
        """A happening that falls due by itself: time does not pass beyond it."""
        self.moves.append(
            Move(name, all_of([self.calm, guard]), ["happen();", *action, "finish();"], over or [])
        )

    # ------------------------------------------------------------ values

    def levels_of(self, point: Point) -> tuple[Fraction, ...]:
        """The levels that a dimmer can have, ascending; of other points nothing."""
        if point.kind is not PointKind.DIMMER:
            return ()
        found = {Fraction(0), Fraction(100)}
        if isinstance(point.starts, Fraction):
            found.add(point.starts)
        for rule in self.job.rules:
            for statement in statements_of(rule.body):
                if isinstance(statement, Put) and statement.point == point.name:
                    assert isinstance(statement.value, Fraction)
                    found.add(statement.value)
        return tuple(sorted(found))

    def index(self, point: Point, value: str | Fraction) -> int:
        """A value as a number."""
        if isinstance(value, Fraction):
            return self.levels[point.name].index(value)
        if point.kind is PointKind.DIMMER:
            return self.levels[point.name].index(Fraction(100 if value == "on" else 0))
        return point.kind.values.index(value)

    def last_index(self, point: Point) -> int:
        """The greatest number of a value."""
        return len(self.levels[point.name]) - 1 if point.kind is PointKind.DIMMER else 1

    def current(self, subject: str) -> str:
        """The variable that holds the truth of a subject."""
        return ("d_" if subject in self.job.door else "v_") + name_of(subject)

    def atom(self, atom: Atom, of: str | None = None) -> str:
        """Whether an atom holds, of the subject's value ``of`` (the current one if not given)."""
        held = self.current(atom.subject) if of is None else of
        if atom.subject in self.job.door:
            assert isinstance(atom, Is)
            places = {"raised": (0,), "lowered": (1,), "moving": (2, 3), "stopped": (4,)}[
                atom.value
            ]
            return any_of(f"({held} = {k})" for k in places)
        if atom.subject in self.job.room:
            assert isinstance(atom, Is)
            return f"({held} = {('empty', 'peopled').index(atom.value)})"
        point = self.job.point[atom.subject]
        if isinstance(atom, Is):
            return f"({held} = {self.index(point, atom.value)})"
        levels = self.levels[point.name]
        fit = [k for k, level in enumerate(levels) if atom.holds_of(level)]
        if len(fit) == len(levels):
            return "true"
        return any_of(f"({held} = {k})" for k in fit)

    # ------------------------------------------------------------ conditions

    def condition(
        self,
        condition: Condition,
        *,
        by_rule: bool = False,
        slot: str = "",
        instead: dict[str, str] | None = None,
    ) -> str:
        """A condition as an expression.

        ``by_rule`` reads the controller's timers, ``slot`` is where the run keeps ``timed out``;
        ``instead`` are values to read in place of the current ones, by subject (and ``night``).
        """

        def of(item: Condition) -> str:
            return self.condition(item, by_rule=by_rule, slot=slot, instead=instead)

        given = instead or {}
        match condition:
            case Is() | Level():
                return self.atom(condition, given.get(condition.subject))
            case Night():
                return f"({given.get('night', 'night')} = 1)"
            case Stayed():
                return self.timer(condition, by_rule) + "_out"
            case Running(rule):
                return f"(nr_{name_of(rule)} > 0)"
            case TimedOut():
                if not slot:
                    raise NotExported("timed out outside a body")
                return slot
            case Not(item):
                return no(of(item))
            case And(items):
                return all_of(of(item) for item in items)
            case Or(items):
                return any_of(of(item) for item in items)
            case Implies(left, right):
                return any_of([no(of(left)), of(right)])
            case _:
                raise NotExported(f"condition {type(condition).__name__}")

    # ------------------------------------------------------------ timers

    def timers_of(self, *, of_rules: bool) -> tuple[Stayed, ...]:
        """The ``has stayed`` timers that the rules, or the requirement, read."""
        read: list[tuple[tuple[Condition, ...], tuple[Event, ...]]] = []
        if of_rules:
            read = [read_by_rule(rule) for rule in self.job.rules]
        elif self.requirement is not None:
            read = [read_by_requirement(self.requirement)]
        found: dict[Stayed, None] = {}
        for conditions, events in read:
            for condition in conditions:
                for leaf in atoms_and_leaves(condition):
                    if isinstance(leaf, Stayed):
                        found[leaf] = None
            for event in events:
                if isinstance(event, HasStayed):
                    found[event.timer] = None
        return tuple(found)

    def timer_keys(self) -> tuple[Stayed, ...]:
        """All timers, each once."""
        return tuple(dict.fromkeys((*self.rule_timers, *self.claim_timers)))

    def timer(self, timer: Stayed, by_rule: bool) -> str:
        """The name of a timer. Without power cuts the rules' and the requirement's are one."""
        number = self.timer_keys().index(timer)
        return f"t{number}" + ("c" if self.cuts and by_rule else "")

    def timer_names(self, timer: Stayed) -> list[str]:
        """The timers that stand for one: with power cuts the truth's and the controller's (8)."""
        found = []
        if timer in self.claim_timers or not self.cuts:
            found.append(self.timer(timer, False))
        if timer in self.rule_timers and self.cuts:
            found.append(self.timer(timer, True))
        return found

    # ------------------------------------------------------------ changes

    def change(self, match: Callable[[Event], str], *, quietly: str = "false") -> list[str]:
        """What one change sets off: it counts once as E and triggers each rule at most once.

        ``match`` tells of an event whether the change is one, as an expression; ``quietly`` is
        true where the change triggers nothing (8). ``m`` must be a local variable.
        """
        lines: list[str] = []
        counts = any_of(match(event) for event in self.claim_events)
        if counts != "false":
            lines.append(f"if {counts} then count(); end;")
        inner: list[str] = []
        for rule in self.job.rules:
            inner += self.trigger_lines(rule.name, match)
        if inner and quietly != "true":
            lines += [f"if {no(quietly)} then", *inner, "end;"] if quietly != "false" else inner
        return lines

    def guards(self, rule: str) -> list[Condition | None]:
        """The different guards of a rule's lines, in order of the text."""
        return list(dict.fromkeys(line.guard for line in self.job.rule[rule].triggers))

    def trigger_lines(self, rule: str, match: Callable[[Event], str]) -> list[str]:
        """A change's trigger of one rule: which of its guards it may go by, as a sum of bits."""
        guards = self.guards(rule)
        by_guard: list[str] = [
            any_of(match(t.event) for t in self.job.rule[rule].triggers if t.guard == guard)
            for guard in guards
        ]
        if all(item == "false" for item in by_guard):
            return []
        name = name_of(rule)
        lines = ["m := 0;"]
        for bit, item in enumerate(by_guard):
            if item != "false":
                lines.append(f"if {item} then m := m + {2**bit}; end;")
        if None in guards:
            bit = guards.index(None)
            if by_guard[bit] != "false":
                lines.append(f"if {by_guard[bit]} then m := {2**bit}; end;")
        lines.append(
            f'if m > 0 then if pend_{name}[m] = 7 then error "OVERFLOW"; '
            f"else pend_{name}[m] := pend_{name}[m] + 1; end; end;"
        )
        return lines

    def subject_event(self, subject: str, old: str, new: str) -> Callable[[Event], str]:
        """How the change of a subject from one value to another matches events."""

        def match(event: Event) -> str:
            match event:
                case Becomes(atom) if atom.subject == subject:
                    return all_of([no(self.atom(atom, old)), self.atom(atom, new)])
                case Changes(changed) if changed == subject:
                    return "true"
                case _:
                    return "false"

        return match

    def just(self, event: Event) -> Callable[[Event], str]:
        """How a change that is one event and nothing else matches events."""
        return lambda other: "true" if other == event else "false"

    def restart_lines(self, subject: str, old: str, new: str) -> list[str]:
        """What the change of a subject does to its timers: leaving the value restarts them (6)."""
        lines: list[str] = []
        for timer in self.timer_keys():
            if timer.atom.subject == subject:
                for name in self.timer_names(timer):
                    turned = f"{self.atom(timer.atom, old)} != {self.atom(timer.atom, new)}"
                    lines.append(f"if {turned} then {name} := 0; {name}_out := false; end;")
        return lines


def needs_measure(requirement: Requirement) -> bool:
    """Whether it is a question and not a claim."""
    return isinstance(requirement.form, MeasureLongest)
