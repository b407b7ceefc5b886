"""The commissioning test sheet: what to do, how long to wait, what to expect, in an order to walk.

Every step is taken on the reference interpreter when the sheet is made, and played again as a
script, in every order of handling; what would hang on the order is not expected of anybody.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.explain.observed import event_occurs
from verifier.handover.goals import Goals
from verifier.handover.parts import parts_of
from verifier.handover.plan import Did, Planner, Walk, lower_bound
from verifier.handover.walk import Here, Taken, Walker
from verifier.model.job import (
    Condition,
    Event,
    Is,
    Job,
    Level,
    PointKind,
    Requirement,
    Rule,
    conditions_and_events_of,
)
from verifier.simulate.script import Expects, Happens, Line, Script, Start
from verifier.simulate.script_play import CannotPlay, play
from verifier.source import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class Look:
    """A look at the outputs: when, and (output, value) of those that are to be expected.

    ``tolerance_s``: how far off the moment may be.
    """

    at_s: Fraction
    expect: tuple[tuple[str, str], ...]
    tolerance_s: Fraction


@dataclass(frozen=True, slots=True)
class Step:
    """One row: what is done (by the words of a happening; empty: wait), and the looks after it.

    ``wait_s`` is how long after the step before; ``requirements`` whose figure or outputs are
    looked at; ``rules`` that act; ``goals`` that are reached; ``by_night``.
    """

    number: int
    at_s: Fraction
    do: str
    wait_s: Fraction
    looks: tuple[Look, ...]
    rules: tuple[str, ...]
    requirements: tuple[str, ...]
    goals: tuple[str, ...]
    spans: tuple[Span, ...]
    by_night: bool


@dataclass(frozen=True, slots=True)
class Section:
    """One walk: how things stand before it, its steps, and the same as a script for `try`."""

    number: int
    start: tuple[tuple[str, str], ...]
    steps: tuple[Step, ...]
    until_s: Fraction
    script: Script
    part: Job


@dataclass(frozen=True, slots=True)
class Sampled:
    """Rooms of one kind of which a sample is tested: the rules of each, and how many are tested."""

    rooms: tuple[tuple[str, ...], ...]
    tested: int


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet.

    ``covered`` and ``missing`` are goals in words; ``naive`` (steps, seconds) of one test for each
    goal; ``least`` a lower bound of what has to be done; ``unlooked`` requirements with a figure
    at whose boundary no step looks.
    """

    job: Job
    sections: tuple[Section, ...]
    covered: tuple[str, ...]
    missing: tuple[str, ...]
    naive: tuple[int, Fraction]
    least: int
    unlooked: tuple[str, ...]
    sampled: tuple[Sampled, ...] = ()

    @property
    def steps(self) -> int:
        """How many rows there are."""
        return sum(len(section.steps) for section in self.sections)

    @property
    def seconds(self) -> Fraction:
        """How long it takes, without walking about."""
        return sum((section.until_s for section in self.sections), Fraction(0))


def changed_since(old: Job, new: Job) -> frozenset[str]:
    """The rules whose behaviour a test has to see again: changed or new, or with a changed input.

    A rule counts as changed with anything that it reads or sets; a rule that is gone, with what
    others of its part do now.
    """
    found: set[str] = set()
    before = {_key(part): part for part in parts_of(old)}
    for part in parts_of(new):
        was = before.get(_key(part))
        if was is None or was.points != part.points or was.assumptions != part.assumptions:
            found |= set(part.rule)
            continue
        if was.doors != part.doors or was.rooms != part.rooms:
            found |= set(part.rule)
            continue
        found |= {rule.name for rule in part.rules if was.rule.get(rule.name) != rule}
    return frozenset(found)


def _key(part: Job) -> frozenset[str]:
    return frozenset(part.rule)


def sheet_of(
    job: Job,
    tell: Callable[[str], None] = lambda _: None,
    only: frozenset[str] | None = None,
) -> Sheet:
    """The test sheet of a job; ``tell`` hears which rule's part is being planned.

    ``only`` names the rules that are to be tested (None: all); what touches them comes along.

    With a site, night and day come when the tester makes them: the sheet is for any date.
    """
    if job.site is not None:
        free = replace(job.site, latitude_deg=None, longitude_deg=None, timezone=None)
        job = replace(job, site=free)
    sections: list[Section] = []
    covered: list[str] = []
    missing: list[str] = []
    looked: set[str] = set()
    naive_steps, naive_s, least = 0, Fraction(0), 0
    parts, sampled = sample_of(parts_of(job))
    for part in parts:
        tell(", ".join(rule.name for rule in part.rules))
        walker = Walker(part)
        goals = Goals(walker)
        if only is not None:
            goals.all = tuple(goal for goal in goals.all if goal.rule in only)
            if not goals.all:
                continue
        plan = Planner(walker, goals).plan()
        own = _requirements_of(job, part)
        for walk in plan.walks:
            made = _Section(walker, goals, part, own, walk, len(sections) + 1).made()
            looked |= {name for step in made.steps for name in step.requirements}
            sections.append(_renumbered(made, sum(len(s.steps) for s in sections)))
        covered.extend(goals.words(g) for g in goals.all if g in plan.reached)
        missing.extend(goals.words(g) for g in plan.missing)
        naive_steps, naive_s = naive_steps + plan.naive[0], naive_s + plan.naive[1]
        least += lower_bound(goals)
    figures = [r.name for r in job.requirements if _figures(r) and r.name not in looked]
    return Sheet(
        job,
        tuple(sections),
        tuple(covered),
        tuple(missing),
        (naive_steps, naive_s),
        least,
        tuple(figures),
        sampled,
    )


ALL_UP_TO = 7
"""Of up to so many rooms of one kind each is tested, of more a tenth at least.

Source: IECC C408.3 (seen): up to seven sensors all, above that at least 10 % of each kind, and all
of them if 30 % of the sample fail.
"""


def sample_of(parts: tuple[Job, ...]) -> tuple[tuple[Job, ...], tuple[Sampled, ...]]:
    """The parts to test, and what was left to the sample: rooms of one typical, with many of them."""
    kinds: dict[object, list[Job]] = {}
    for part in parts:
        spans = tuple((rule.span, rule.policy, rule.provided is None) for rule in part.rules)
        kinds.setdefault(spans, []).append(part)
    chosen: set[int] = set()
    found = []
    for alike in kinds.values():
        count = len(alike) if len(alike) <= ALL_UP_TO else -(-len(alike) // 10)
        # Spread over the building, not the first few.
        chosen |= {id(alike[k * len(alike) // count]) for k in range(count)}
        if count < len(alike):
            rooms = tuple(tuple(rule.name for rule in part.rules) for part in alike)
            found.append(Sampled(rooms, count))
    return tuple(part for part in parts if id(part) in chosen), tuple(found)


def _renumbered(section: Section, before: int) -> Section:
    steps = tuple(replace(s, number=before + k) for k, s in enumerate(section.steps, 1))
    return replace(section, steps=steps)


def _requirements_of(job: Job, part: Job) -> tuple[Requirement, ...]:
    """The requirements that speak of a part."""
    names = {p.name for p in part.points} | {d.name for d in part.doors}
    names |= {r.name for r in part.rooms} | {r.name for r in part.rules}
    found = []
    for requirement in job.requirements:
        subjects = _subjects(requirement)
        if subjects and subjects <= names:
            found.append(requirement)
    return tuple(found)


def _subjects(requirement: Requirement) -> set[str]:
    from verifier.graph.access import CLOCK, POWER, SUN, requirement_names

    return set(requirement_names(requirement)) - {CLOCK, POWER, SUN}


def _figures(requirement: Requirement) -> tuple[Fraction, ...]:
    """The durations of a requirement that begins with an event."""
    form = requirement.form
    _, events = conditions_and_events_of(form)
    names = ("within_s", "for_s")
    return (
        tuple(getattr(form, n) for n in names if hasattr(form, n) and getattr(form, n))
        if events
        else ()
    )


# ---------------------------------------------------------------- one walk as a section


class _Section:
    """Makes the rows of one walk: it is gone once more, and looked at on the way."""

    def __init__(
        self,
        walker: Walker,
        goals: Goals,
        part: Job,
        requirements: tuple[Requirement, ...],
        walk: Walk,
        number: int,
    ) -> None:
        self.walker, self.goals, self.part = walker, goals, part
        self.requirements, self.walk, self.number = requirements, walk, number
        self.outputs = [p for p in part.points if p.kind.is_output]
        self.seen_at: list[tuple[Fraction, dict[str, str]]] = []
        self.taken: list[Taken] = []
        self.bounds: dict[Fraction, str] = {}

    def made(self) -> Section:
        start = self.walker.start()
        assert start is not None
        self._go(start)
        self.bounds = self._boundaries()
        looks = self._looks()
        script = self._script(start, looks)
        unsure = self._unsure(script)
        looks = {
            at: tuple(pair for pair in expect if (at, pair[0]) not in unsure)
            for at, expect in looks.items()
        }
        script = self._script(start, looks)
        steps = self._steps(looks)
        seen = self.walker.seen(start)
        rules = {rule.name for rule in self.part.rules}
        begins = tuple((s, v) for s, v in seen.items() if s not in rules and s != "clock")
        return Section(self.number, begins, steps, self.walk.until_s, script, self.part)

    def _go(self, here: Here) -> None:
        """Takes the walk again, and notes what is seen after each happening."""
        self.seen_at.append((Fraction(0), self.walker.seen(here)))
        for did in self.walk.did:
            if did.happening is not None:
                gone = self.walker.later(here, did.at_s)
                assert gone is not None
                here = self._noted(gone)
                step = self.walker.done(here, did.happening)
                assert step is not None
                here, one = step
                self.taken.append(one)
                self.seen_at.append((here.now_s, self.walker.seen(here)))
            gone = self.walker.later(here, did.until_s)
            assert gone is not None
            here = self._noted(gone)

    def _noted(self, gone: tuple[Here, tuple[Taken, ...]]) -> Here:
        here, taken = gone
        for one in taken:
            self.taken.append(one)
            seen = self.walker.seen(replace(here, state=one.after))
            self.seen_at.append((one.at_s, seen))
        return here

    def _looks(self) -> dict[Fraction, tuple[tuple[str, str], ...]]:
        """When the outputs are looked at, and what is to be expected then."""
        moments = {at for did in self.walk.did for at in did.looks} | set(self.bounds)
        return {at: self._expected(at) for at in sorted(moments)}

    def _expected(self, at: Fraction) -> tuple[tuple[str, str], ...]:
        now = self._seen_at(at)
        return tuple((p.name, now[p.name]) for p in self.outputs if _plain(now[p.name]))

    def _seen_at(self, at: Fraction) -> dict[str, str]:
        return next(seen for when, seen in reversed(self.seen_at) if when <= at)

    def _boundaries(self) -> dict[Fraction, str]:
        """Moments just before and after a requirement's figure, where nothing is done meanwhile."""
        found: dict[Fraction, str] = {}
        looks = sorted(at for did in self.walk.did for at in did.looks)
        done = [did.at_s for did in self.walk.did if did.happening is not None]
        for requirement in self.requirements:
            for seconds in _figures(requirement):
                for at in self._occurrences(requirement):
                    margin = min(max(Fraction(1), seconds / 50), Fraction(5), seconds / 4)
                    after = at + seconds + margin
                    busy = any(at < other <= after + 1 for other in done)
                    if not busy and after <= self.walk.until_s:
                        for moment in (at + seconds - margin, after):
                            near = _near(looks, moment, at + seconds)
                            found[near] = requirement.name
                        break
        return found

    def _occurrences(self, requirement: Requirement) -> list[Fraction]:
        """When an event of a requirement occurs, in its scope, as far as that can be read here."""
        _, events = conditions_and_events_of(requirement.form)
        return [
            one.at_s
            for one in self.taken
            if any(self._occurs(event, one) for event in events)
            and self._in_scope(requirement, one)
        ]

    def _occurs(self, event: Event, one: Taken) -> bool:
        try:
            return event_occurs(self.walker.system, event, one.before, one.happening, one.after)
        except KeyError:
            return False  # a timer that no rule reads is not kept here

    def _in_scope(self, requirement: Requirement, one: Taken) -> bool:
        from verifier.explain.observed import holds_in

        if requirement.scope is None:
            return True
        try:
            return holds_in(self.walker.system, requirement.scope, one.after)
        except KeyError:
            return False

    # ------------------------------------------------------------ script

    def _script(self, start: Here, looks: dict[Fraction, tuple[tuple[str, str], ...]]) -> Script:
        lines: list[Line] = []
        for did in self.walk.did:
            if did.happening is not None:
                lines.append(Happens(did.at_s, did.happening.what, NOWHERE))
        for at, expect in looks.items():
            for name, value in expect:
                condition = _condition(self.part, name, value)
                lines.append(Expects(at, condition, f"{name} is {value}", NOWHERE))
        lines.sort(key=lambda line: (line.at_s, isinstance(line, Expects)))
        seen = self.walker.seen(start)
        starts = []
        for subject, value in seen.items():
            if subject == "sun":
                starts.append(Start("", value, NOWHERE))
            elif self._is_set_by_hand(subject):
                starts.append(Start(subject, value, NOWHERE))
        return Script(tuple(starts), tuple(lines), self.walk.until_s, NOWHERE)

    def _is_set_by_hand(self, subject: str) -> bool:
        """Whether a script can say how a subject is at the start: an input, but of no door."""
        point = self.part.point.get(subject)
        own = point is not None and point.kind.is_input and bool(point.kind.values)
        return own and subject not in self.part.door_of_point

    def _unsure(self, script: Script) -> set[tuple[Fraction, str]]:
        """(moment, output) of what is not so in every order of what happens at one moment."""
        try:
            played = play(self.part, script, every_order=True)
        except CannotPlay:
            played = play(self.part, script)
        return {
            (each.line.at_s, each.line.text.split(" is ")[0])
            for each in played.expected
            if not each.kept
        }

    # ------------------------------------------------------------ rows

    def _steps(self, looks: dict[Fraction, tuple[tuple[str, str], ...]]) -> tuple[Step, ...]:
        bounds = self.bounds
        rows: list[Step] = []
        moments = list(looks)
        before = Fraction(0)
        for k, did in enumerate(self.walk.did):
            end = self.walk.did[k + 1] if k + 1 < len(self.walk.did) else None
            until = self.walk.until_s if end is None else end.at_s
            begin = did.at_s
            others = {at for other in self.walk.did if other is not did for at in other.looks}
            own = [
                at
                for at in moments
                if at in did.looks or (begin <= at <= until and at not in others)
            ]
            moments = [at for at in moments if at not in own]
            if did.happening is None and not own:
                continue
            rows.append(self._row(did, begin, own, looks, bounds, before))
            before = begin
        return tuple(rows)

    def _row(
        self,
        did: Did,
        begin: Fraction,
        own: list[Fraction],
        looks: dict[Fraction, tuple[tuple[str, str], ...]],
        bounds: dict[Fraction, str],
        before: Fraction,
    ) -> Step:
        until = max([begin, *own])
        acting = [one for one in self.taken if begin <= one.at_s <= until]
        spans = tuple(dict.fromkeys(span for one in acting for span in one.because))
        rules = tuple(r.name for r in self.part.rules if self._acts(r, spans))
        changed = {
            name
            for one in acting
            for name, value in self.walker.seen(_at(one)).items()
            if name in {p.name for p in self.outputs} and self._before(one).get(name) != value
        }
        names = [bounds[at] for at in own if at in bounds]
        names.extend(r.name for r in self.requirements if _subjects(r) & {*changed, *rules})
        night = self._seen_at(begin).get("sun") == "night"
        return Step(
            0,
            begin,
            "" if did.happening is None else did.happening.what,
            begin - before,
            tuple(Look(at, looks[at], self._tolerance(at)) for at in own),
            rules,
            tuple(dict.fromkeys(names)),
            tuple(self.goals.words(g) for g in self.goals.all if g in did.goals),
            spans,
            night,
        )

    def _acts(self, rule: Rule, spans: tuple[Span, ...]) -> bool:
        """Whether one of a rule's lines is among those that acted."""
        system = self.walker.system
        places = system.codes[system.rule_index[rule.name]].places
        return any(t.span in spans for t in rule.triggers) or any(p.span in spans for p in places)

    def _before(self, one: Taken) -> dict[str, str]:
        return self.walker.seen(_at(replace(one, after=one.before)))

    def _tolerance(self, at: Fraction) -> Fraction:
        """How far a look may be from its moment: half the way to the nearest change."""
        apart = [abs(when - at) for when, _ in self.seen_at if when != at]
        return min([Fraction(5), *(d * 9 / 10 for d in apart)])


def _near(looks: list[Fraction], moment: Fraction, figure: Fraction) -> Fraction:
    """The look that is near a moment already, on the same side of a figure; else the moment."""
    same = [
        look
        for look in looks
        if abs(look - moment) <= 3 and (look < figure) is (moment < figure) and look != figure
    ]
    return min(same, key=lambda look: abs(look - moment), default=moment)


def _at(one: Taken) -> Here:
    return Here(one.after, one.at_s, 0, ())


def _plain(value: str) -> bool:
    """Whether a value is one that can be seen: not a level somewhere between two."""
    return "between" not in value and "(" not in value


def _condition(part: Job, name: str, value: str) -> Condition:
    point = part.point[name]
    if point.kind is not PointKind.DIMMER:
        return Is(name, value)
    if value == "off":
        return Level(name, "at most", Fraction(0))
    if value == "on":
        return Level(name, "equal", Fraction(100))
    return Level(name, "equal", Fraction(value.removesuffix("%").strip()))
