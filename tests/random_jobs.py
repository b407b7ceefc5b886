"""Random jobs, small enough for the exhaustive search, over everything that has a meaning.

``rng`` is a ``random.Random`` (a seeded one, or hypothesis's own, which shrinks). Durations are
few and small so that ticks do not explode.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import TYPE_CHECKING, Any

from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AssumeAlways,
    AssumeStays,
    Assumption,
    AtMostTimes,
    Becomes,
    Before,
    Branch,
    Cancel,
    Changes,
    Condition,
    DayBegins,
    Door,
    EndRun,
    Event,
    Fault,
    FaultKind,
    Form,
    HasStayed,
    If,
    Implies,
    Is,
    Job,
    LeadsTo,
    Level,
    MeasureLongest,
    Never,
    Night,
    NightBegins,
    NoLonger,
    NoShorter,
    Not,
    Or,
    Point,
    PointKind,
    Policy,
    Possible,
    PowerReturns,
    Pressed,
    Put,
    Repeat,
    Requirement,
    Room,
    Rule,
    RuleEnds,
    RuleStarts,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Trigger,
    Wait,
    WaitUntil,
    WhenFor,
    WhenWithin,
)
from verifier.source import NOWHERE

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy


def point(name: str, kind: PointKind, **given: Any) -> Point:
    """A point with nothing special about it but what is given."""
    fields: dict[str, Any] = {
        "label": name,
        "starts": None,
        "power_w": None,
        "holds_s": None,
        "rearm_s": None,
        "wired": None,
        "broken_wire_reads": None,
        "wireless": False,
        "local_switch": False,
        "power_return": "off",
        "retained": False,
        "span": NOWHERE,
    }
    fields.update(given)
    return Point(name=name, kind=kind, **fields)


class Maker:
    """Makes one job."""

    def __init__(self, rng: Random, *, size: int = 2) -> None:
        self.rng = rng
        self.size = size
        self.points: list[Point] = []
        self.doors: list[Door] = []
        self.rooms: list[Room] = []
        self.rule_names = [f"rule_{k}" for k in range(1 + self.chance(0.7) + (size > 2))]
        self.cuts = self.chance(0.2)
        self._lay_points()

    def chance(self, likely: float) -> bool:
        return self.rng.random() < likely

    def one(self, items: list[Any]) -> Any:
        return items[self.rng.randrange(len(items))]

    def seconds(self) -> Fraction:
        return Fraction(self.one([1, 1, 2, 2, 3, 4]))

    # ------------------------------------------------------------ points

    def _lay_points(self) -> None:
        inputs = [PointKind.BUTTON, PointKind.CONTACT, PointKind.DETECTOR, PointKind.SWITCH]
        for k in range(1 + self.chance(0.6)):
            kind = self.one(inputs)
            given: dict[str, Any] = {}
            if kind is not PointKind.BUTTON and self.chance(0.5):
                given["starts"] = self.one(list(kind.values))
            if kind is PointKind.DETECTOR:
                given["holds_s"] = self.seconds() if self.chance(0.6) else None
                given["rearm_s"] = self.seconds() if self.chance(0.4) else None
            self.points.append(point(f"input_{k}", kind, **given))
        if self.chance(0.2):
            self._lay_door()
        if self.chance(0.15):
            self._lay_room()
        for k in range(1 + self.chance(0.4)):
            kind = self.one([PointKind.LAMP, PointKind.LAMP, PointKind.LOAD, PointKind.DIMMER])
            starts: Any = None
            if self.chance(0.2):
                starts = Fraction(100) if kind is PointKind.DIMMER else "on"
            self.points.append(
                point(
                    f"lamp_{k}",
                    kind,
                    starts=starts,
                    local_switch=self.chance(0.15),
                    power_return=self.one(["off", "off", "on", "last"]),
                )
            )
        if self.chance(0.3):
            self.points.append(point("flag_0", PointKind.FLAG, retained=self.chance(0.5)))

    def _lay_door(self) -> None:
        self.points.append(point("upper", PointKind.LIMIT))
        self.points.append(point("lower", PointKind.LIMIT))
        motor = None
        if self.chance(0.5):
            motor = "motor"
            self.points.append(point("motor", PointKind.SWITCH))
        least = self.one([1, 2])
        starts = self.one([None, "raised", "lowered", "anywhere"])
        self.doors.append(
            Door(
                "shutter", "", "upper", "lower", motor,
                Fraction(least), Fraction(least + self.one([0, 1, 2])), starts, NOWHERE,
            )
        )  # fmt: skip

    def _lay_room(self) -> None:
        detectors = [p.name for p in self.points if p.kind is PointKind.DETECTOR]
        if not detectors:
            self.points.append(point("pir", PointKind.DETECTOR, holds_s=Fraction(1)))
            detectors = ["pir"]
        ways = [p.name for p in self.points if p.kind is PointKind.CONTACT]
        ways += [d.name for d in self.doors]
        still = self.seconds() if self.chance(0.6) else None
        noticed = self.seconds() if self.chance(0.5) else still
        self.rooms.append(
            Room("room", "", tuple(ways[:1]), (detectors[0],), still, noticed,
                 self.one([None, "peopled", "empty"]), NOWHERE)
        )  # fmt: skip

    # ------------------------------------------------------------ conditions

    def readable(self) -> list[Point]:
        return [p for p in self.points if p.kind is not PointKind.BUTTON]

    def atom(self, *, truth: bool, world: bool = False, value: bool = False) -> Is | Level:
        """An atom; ``value``: one that can stand after `becomes` and `has stayed`."""
        subjects: list[Any] = [p for p in self.readable() if p.kind.is_input or not world]
        if truth:
            subjects += [*self.doors, *self.rooms]
        if not subjects:
            subjects = self.readable()
        subject = self.one(subjects)
        if isinstance(subject, Door):
            return Is(subject.name, self.one(["raised", "lowered", "moving", "stopped"]))
        if isinstance(subject, Room):
            return Is(subject.name, self.one(["peopled", "empty"]))
        if subject.kind is PointKind.DIMMER and value:
            comparison = self.one(["above", "at most", "equal", "equal"])
            percent = self.one([40, 100]) if comparison == "equal" else 0
            return Level(subject.name, comparison, Fraction(percent))
        if subject.kind is PointKind.DIMMER:
            comparison = self.one(["above", "at most", "at least", "below", "equal"])
            if comparison in ("above", "at most"):
                return Level(subject.name, comparison, Fraction(self.one([0, 40])))
            return Level(subject.name, comparison, Fraction(self.one([40, 100])))
        return Is(subject.name, self.one(list(subject.kind.values)))

    def condition(self, depth: int = 2, *, truth: bool = False, body: bool = False) -> Condition:
        kind = self.rng.random()
        if depth == 0 or kind < 0.5:
            return self.atom(truth=truth)
        if kind < 0.58:
            return Night()
        if kind < 0.66:
            return Stayed(self.atom(truth=truth, value=True), self.seconds())
        if kind < 0.74:
            return Running(self.one(self.rule_names))
        if body and kind < 0.78:
            return TimedOut()
        items = (
            self.condition(depth - 1, truth=truth, body=body),
            self.condition(depth - 1, truth=truth, body=body),
        )
        if kind < 0.84:
            return Not(items[0])
        if kind < 0.92:
            return And(items)
        return Or(items)

    def event(self, *, truth: bool = False) -> Event:
        kind = self.rng.random()
        buttons = [p.name for p in self.points if p.kind is PointKind.BUTTON]
        if buttons and kind < 0.35:
            return Pressed(self.one(buttons))
        if kind < 0.7:
            return Becomes(self.atom(truth=truth, value=True))
        if kind < 0.78:
            return Changes(self.one(self.readable()).name)
        if kind < 0.84:
            return HasStayed(Stayed(self.atom(truth=truth, value=True), self.seconds()))
        if kind < 0.9:
            return NightBegins() if self.chance(0.5) else DayBegins()
        if kind < 0.93 and self.cuts:
            return PowerReturns()
        name = self.one(self.rule_names)
        return RuleStarts(name) if self.chance(0.5) else RuleEnds(name)

    # ------------------------------------------------------------ rules

    def put(self) -> Statement:
        outputs = [p for p in self.points if not p.kind.is_input]
        target = self.one(outputs)
        if target.kind is PointKind.DIMMER:
            return Put(target.name, Fraction(self.one([0, 40, 100])), NOWHERE)
        return Put(target.name, self.one(list(target.kind.values)), NOWHERE)

    def statement(self, depth: int) -> Statement:
        kind = self.rng.random()
        if kind < 0.45:
            return self.put()
        if kind < 0.68:
            return Wait(self.seconds(), NOWHERE)
        if kind < 0.8:
            most = self.seconds() if self.chance(0.5) else None
            return WaitUntil(self.condition(1), most, NOWHERE)
        if kind < 0.9 and depth:
            branch = Branch(self.condition(1, body=True), self.body(depth - 1, 2), NOWHERE)
            otherwise = self.body(depth - 1, 2) if self.chance(0.5) else ()
            return If((branch,), otherwise, NOWHERE)
        if kind < 0.93 and depth:
            body = (*self.body(depth - 1, 1), Wait(self.seconds(), NOWHERE))
            return Repeat(body, self.condition(1), NOWHERE)
        if kind < 0.96:
            return Cancel(self.one(self.rule_names), NOWHERE)
        if kind < 0.97:
            return EndRun(NOWHERE)
        return self.put()

    def body(self, depth: int, most: int) -> tuple[Statement, ...]:
        return tuple(self.statement(depth) for _ in range(1 + self.rng.randrange(most)))

    def rule(self, name: str) -> Rule:
        policy = self.one(
            [
                Policy(1, 0, True),
                Policy(1, 0, False),
                Policy(1, 0, True),
                Policy(2, 0, False),
                Policy(2, 0, True),
                Policy(1, 1, False),
                Policy(1, 1, True),
            ]
        )
        triggers = tuple(
            Trigger(self.event(), self.condition(1) if self.chance(0.2) else None, NOWHERE)
            for _ in range(1 + self.chance(0.3))
        )
        provided = self.condition(1) if self.chance(0.3) else None
        return Rule(name, "", policy, triggers, provided, self.body(1, 4), NOWHERE)

    # ------------------------------------------------------------ the rest

    def assumption(self) -> Assumption | None:
        """An assumption about the surroundings; None where there is nothing to assume anything of."""
        inputs = [p for p in self.readable() if p.kind.is_input]
        if inputs and self.chance(0.3):
            return AssumeAlways(
                Implies(self.atom(truth=True, world=True), Night())
                if self.chance(0.5)
                else Or((Night(), self.atom(truth=True, world=True))),
                NOWHERE,
            )
        if not inputs:
            return None
        chosen = self.one(inputs)
        value = self.one(list(chosen.kind.values))
        bound = self.one(["at least", "at most"])
        return AssumeStays(Is(chosen.name, value), bound, self.seconds(), NOWHERE)

    def form(self) -> Form:
        c = self.condition(2, truth=True)
        e: tuple[Event, ...] = (self.event(truth=True),)
        if self.chance(0.15):
            e = (*e, self.event(truth=True))
        d = self.seconds()
        forms: list[Form] = [
            Always(c),
            Always(Implies(self.condition(1, truth=True), c)),
            Never(c),
            WhenWithin(e, c, d),
            WhenFor(e, c, d),
            AfterLast(e, c, d),
            Before(e, c, d),
            NoLonger(d, c),
            NoShorter(d, c),
            AtMostTimes(self.one([1, 1, 2]), d, e),
            LeadsTo(self.one(self.rule_names), c),
            Possible(c),
            MeasureLongest(c, e),
        ]
        chosen: Form = self.one(forms)
        return chosen

    def requirement(self) -> Requirement:
        form = self.form()
        scope = None
        if self.chance(0.2) and not isinstance(form, LeadsTo):
            scope = self.condition(1, truth=True)
        allowing = Fraction(0)
        if isinstance(form, Always | Never | WhenFor | NoLonger | NoShorter) and self.chance(0.25):
            allowing = self.seconds()
        return Requirement("claim", "", scope, form, allowing, NOWHERE)

    def job(self) -> tuple[Job, Requirement]:
        """The job and its one requirement."""
        assumed = self.assumption() if self.chance(0.15) else None
        assumptions = () if assumed is None else (assumed,)
        rules = tuple(self.rule(name) for name in self.rule_names)
        requirement = self.requirement()
        faults = (Fault(FaultKind.POWER_CUTS, None, None, NOWHERE),) if self.cuts else ()
        job = Job(
            "random", None, tuple(self.points), tuple(self.doors), tuple(self.rooms), rules,
            assumptions, faults, (requirement,),
        )  # fmt: skip
        return job, requirement


def random_job(rng: Random, *, size: int = 2) -> tuple[Job, Requirement]:
    """A random job with one requirement."""
    return Maker(rng, size=size).job()


def random_jobs(*, size: int = 2) -> SearchStrategy[tuple[Job, Requirement]]:
    """The same as a strategy: Hypothesis makes a failing job small; ``dusk_text`` shows it."""
    from hypothesis import strategies

    return strategies.randoms(use_true_random=False).map(lambda rng: random_job(rng, size=size))
