"""A room that a person operates: the job played live on the reference interpreter.

A :class:`RoomSession` has no clock of its own: a person does something (:meth:`RoomSession.do`) or
lets time pass (:meth:`RoomSession.pass_time`), and is told moment by moment what happened, which
rules reacted and how, and at which lines. Where the order of handling makes a difference each
order is told, and :meth:`RoomSession.choose` takes another one.

What cannot be operated: what a run of the job does not have (people who come through a shut door, a
door that is faster than it is); the moments of clock and sun of a site, which come on their date;
where a door stands between its limits, which is only drawn.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from fractions import Fraction
from typing import Any

from verifier.explain.clock_words import ClockTold
from verifier.explain.diagram import Kind
from verifier.explain.labels import labels_of, with_labels
from verifier.explain.told import changes_told
from verifier.model.job import Job, Requirement
from verifier.model.words import duration
from verifier.simulate.run import Run, Step
from verifier.simulate.script_reason import clock_words, what_is_due, why_not
from verifier.simulate.seen import changes_between
from verifier.teach.history import Group, History, frames_of
from verifier.teach.playing import Happened, NeverSettles, Now, Playing, Starts, Way
from verifier.teach.reactions import Reactions, happening_words
from verifier.teach.room_values import LaneShown, Moment, Order, Place, plain_place, room_values
from verifier.teach.shown import (
    Action,
    Due,
    Refused,
    RuleShown,
    Thing,
    due_of,
    in_a_room,
    possible_in,
    refused_in,
    rules_of,
    things_of,
)
from verifier.teach.watching import Judged, Tracked, Watch

MOST_MOMENTS = 500
"""Moments that one passing of time may bring; then it stops and says so."""

MOST_LIVED = 3_000
"""Happenings of one session; then time stands still, and another one begins a new room."""

MOST_UNDONE = 1_000
"""Steps that can be taken back."""

LONGEST_S = Fraction(366 * 86_400)
"""The longest time that may pass at once."""


class NotPossible(Exception):
    """What was asked cannot be done now: ``why``, and what to do (``hint``)."""

    def __init__(self, why: str, hint: str = "") -> None:
        super().__init__(why)
        self.why = why
        self.hint = hint


class RoomSession:
    """A room with its job, from a start in which all is at rest but what ``starts`` names.

    ``begins_s`` is when it begins by the clock (as in a run's clock; None: noon, with a site in
    March). Raises: CannotBegin.
    """

    def __init__(self, job: Job, starts: Starts = (), begins_s: Fraction | None = None) -> None:
        self.playing = Playing(job, begins_s)
        self._job = job
        self._starts = starts
        self._reactions = Reactions(self.playing)
        start = self.playing.start(starts)
        self._past = History(start, (), start)
        self._undo: deque[History] = deque(maxlen=MOST_UNDONE)
        self._quiet = False
        """Whether the last thing was that time passed and nothing happened."""
        self._shown: tuple[History, ...] = ()
        """The frames of a run that is shown step by step."""
        self._frame = 0
        self._watch: Watch | None = None
        self._tracked: tuple[History, Tracked] | None = None
        self._told: list[tuple[Group, tuple[Moment, ...]]] = []

    @property
    def history(self) -> History:
        """All that was lived through, as states."""
        return self._past

    # ------------------------------------------------------------ what is so

    @property
    def now_s(self) -> Fraction:
        """Seconds from the start."""
        return self._past.now.at_s

    @property
    def clock(self) -> str:
        """The time of the day; empty where the job reads no clock and no sun of a site."""
        return self._clock_at(self.now_s)

    @property
    def things(self) -> tuple[Thing, ...]:
        """What there is to show, but the rules."""
        return things_of(self.playing, self._past.now)

    @property
    def rules(self) -> tuple[RuleShown, ...]:
        """The rules, and where each of their runs waits."""
        return rules_of(self.playing, self._past.now)

    @property
    def moments(self) -> tuple[Moment, ...]:
        """Everything that happened so far."""
        return self._moments(self._past, 0)

    @property
    def stopped(self) -> str:
        """Why time did not pass as far as it was asked to; empty if it did."""
        return self._past.stopped

    def possible(self) -> tuple[Action, ...]:
        """What can be done now."""
        return possible_in(self.playing, self._past.now)

    def refused(self) -> tuple[Refused, ...]:
        """What cannot be done now and is not so already, with the reason."""
        return refused_in(self.playing, self._past.now)

    def due(self) -> tuple[Due, ...]:
        """What happens by itself, or has to happen outside, the soonest first."""
        return due_of(self.playing, self._past.now)

    def next_due(self) -> Due | None:
        """What is due next; None if nothing is."""
        return next(iter(self.due()), None)

    # ------------------------------------------------------------ what a person does

    def do(self, key: str) -> tuple[Moment, ...]:
        """Does something now and tells what came of it. Raises: NotPossible.

        What was left undone at this very moment stays so, and comes after it.
        """
        now, playing = self._past.now, self.playing
        left = playing.due_at(now) == now.at_s
        try:
            ways = playing.ways(playing.done(now, key), goes_on=not left)
        except NeverSettles as endless:
            raise _never_settles(endless) from None
        if not ways:
            if key not in playing.outside:
                raise NotPossible(f"“{key}” is nothing that can be done here")
            raise NotPossible(*in_a_room(why_not(playing.system, now.state, key, now.at_s)))
        return self._add([Group(ways, 0)], ways[0][-1].now)

    def pass_time(self, seconds: Fraction, *, leave_due: bool = False) -> tuple[Moment, ...]:
        """Lets time pass; tells what came by itself within, in order. Raises: NotPossible.

        ``leave_due``: what is due at the very end is left undone, so that a person can be quicker.
        """
        if not 0 <= seconds <= LONGEST_S:
            raise NotPossible(
                f"so much time cannot pass at once: {duration(seconds)}",
                f"Let between 0 s and {duration(LONGEST_S)} pass.",
            )
        now, goal = self._past.now, self._past.now.at_s + seconds
        groups: list[Group] = []
        stopped = ""
        count = 0
        lived = sum(len(group.way) for group in self._past.groups)
        while True:
            dues = (self.playing.due_at(now), self.playing.must_at(now))
            following = min((at for at in dues if at is not None), default=None)
            if following is None or following > goal or (leave_due and following == goal):
                now = self.playing.later(now, goal)
                break
            if lived + count >= MOST_LIVED:
                stopped = f"this room has seen {lived + count} things happen: begin a new one"
                break
            now = self.playing.later(now, following)
            ways, stopped = self._ways_here(now, following == dues[0])
            if not ways:
                break
            groups.append(Group(ways, 0))
            now, count = ways[0][-1].now, count + len(ways[0])
            if count >= MOST_MOMENTS:
                stopped = f"stopped here: {count} things have happened in a row"
                break
        return self._add(groups, now, stopped)

    def _ways_here(self, now: Now, itself: bool) -> tuple[tuple[Way, ...], str]:
        """The ways in which what is due now comes out; none, and why, where time cannot go on."""
        playing = self.playing
        try:
            first = playing.by_itself(now) if itself else []
            ways = playing.ways(first or _first_thing(playing.owed(now)))
        except NeverSettles as endless:
            return (), _never_settles(endless).why
        if ways:
            return ways, ""
        owed = [
            bound
            for bound in playing.system.layout.bounds
            if now.state.clocks[bound.clock] >= bound.limit
            and bound.outside
            and all(now.state.values[v] & m for v, m in bound.when)
        ]
        if not owed:
            return (), "time cannot go on: what runs out now would break an assumption"
        said, hint = what_is_due(playing.system, now.state, owed[0])
        return (), f"something has to happen first: {said}. {hint}"

    def pass_until_due(self, *, leave_due: bool = False) -> tuple[Moment, ...]:
        """Lets time pass up to what is due next. Raises: NotPossible."""
        due = self.next_due()
        if due is None:
            raise NotPossible("nothing is due", "Do something, or let time pass.")
        return self.pass_time(due.in_s, leave_due=leave_due)

    def choose(self, key: str) -> tuple[Moment, ...]:
        """Takes another order of a moment; what came later is taken back. Raises: NotPossible."""
        number, _, way = key.partition(".")
        groups = self._past.groups
        if not (number.isdecimal() and way.isdecimal() and int(number) < len(groups)):
            raise NotPossible(f"there is no order “{key}”")
        group = groups[int(number)]
        if int(way) >= len(group.ways):
            raise NotPossible(f"there is no order “{key}”")
        self._take_over()
        self._undo.append(self._past)
        self._quiet = False
        chosen = replace(group, chosen=int(way))
        kept = groups[: int(number)]
        self._past = History(self._past.start, (*kept, chosen), chosen.way[-1].now)
        return self._moments(self._past, len(kept))

    def undo(self) -> bool:
        """Takes the last thing back that was done, chosen or let pass; False if there is none.

        Stretches in which nothing happens go back as one, however often time was let pass.
        """
        self._take_over()
        self._quiet = False
        if not self._undo:
            return False
        self._past = self._undo.pop()
        return True

    def _add(self, groups: list[Group], now: Now, stopped: str = "") -> tuple[Moment, ...]:
        self._take_over()
        if groups or not self._quiet:
            self._undo.append(self._past)
        self._quiet = not groups
        before = len(self._past.groups)
        self._past = History(self._past.start, (*self._past.groups, *groups), now, stopped)
        return self._moments(self._past, before)

    # ------------------------------------------------------------ a requirement

    def against(self, requirement: str | Requirement | None) -> Judged | None:
        """Watches a requirement from the start on (None: no longer any). Raises: NotPossible."""
        self._tracked = None
        if requirement is None:
            self._watch = None
            return None
        if isinstance(requirement, str):
            if requirement not in self._job.requirement:
                raise NotPossible(f"there is no requirement called “{requirement}”")
            requirement = self._job.requirement[requirement]
        part = self.playing.job
        if len(part.requirements) < len(self._job.requirements) and (
            requirement not in part.requirements
        ):
            shown = ", ".join(each.label or each.name for each in part.requirements)
            raise NotPossible(
                f"this room has only what “{shown}” reads, as the run is shown there",
                "Begin a new room to watch another requirement.",
            )
        self._watch = Watch(self.playing, requirement)
        return self.judged

    @property
    def judged(self) -> Judged | None:
        """How the requirement stands that is watched; None if none is."""
        if self._watch is None:
            return None
        watch, past = self._watch, self._past
        if self._tracked is not None and _goes_on(self._tracked[0], past):
            done, tracked = self._tracked
            groups = past.groups[len(done.groups) :]
        else:
            tracked, groups = watch.begin(past.start), past.groups
        for group in groups:
            tracked = watch.along(tracked, group.way)
        tracked = watch.later(tracked, past.now.at_s)
        self._tracked = past, tracked
        return watch.judged(tracked)

    # ------------------------------------------------------------ a run that is shown

    def play(self, run: Run, requirement: Requirement | None = None) -> int:
        """Shows a run of the prover, and how many steps it has. Raises: NotPossible.

        The session stands at its start then; :meth:`step` goes on and back. What a person does goes
        on from where it stands. ``requirement`` is the one that the run is about, and is watched.
        """
        watched = requirement or (None if self._watch is None else self._watch.requirement)
        watched = watched or next(iter(self._job.requirements), None)
        found = None if watched is None else frames_of(self._job, run, watched)
        if found is None:
            raise NotPossible("this run could not be played again here")
        playing, frames = found
        self.playing = playing
        self._reactions = Reactions(playing)
        self._undo.clear()
        self._quiet = False
        self._told.clear()
        self._shown, self._frame, self._past = frames, 0, frames[0]
        self._tracked = None
        self._watch = None if requirement is None else Watch(playing, requirement)
        return len(frames) - 1

    @property
    def showing(self) -> tuple[int, int] | None:
        """The step of a shown run at which the session stands, and how many there are."""
        return (self._frame, len(self._shown) - 1) if self._shown else None

    def step(self, by: int = 1) -> tuple[Moment, ...]:
        """Goes on (or back) in a shown run; tells the moment that it stands at. Raises: NotPossible."""
        if not self._shown:
            raise NotPossible("no run is shown")
        self._frame = min(max(self._frame + by, 0), len(self._shown) - 1)
        self._past = self._shown[self._frame]
        return self._moments(self._past, max(len(self._past.groups) - 1, 0))

    def _take_over(self) -> None:
        self._shown, self._frame = (), 0

    # ------------------------------------------------------------ told

    def as_json(self, place: Place | None = None, since: int = 0) -> dict[str, Any]:
        """All of it as JSON values; ``place`` says a span, ``since`` leaves earlier moments out."""
        return room_values(self, place or plain_place, since)

    def _clock_at(self, at_s: Fraction) -> str:
        clock = self.playing.clock
        return "" if clock is None else ClockTold(clock).at(at_s)

    def _moments(self, past: History, since: int) -> tuple[Moment, ...]:
        """The moments of the groups from one on; what was told once is kept."""
        same = 0
        for (group, _), other in zip(self._told, past.groups, strict=False):
            if group is not other:
                break
            same += 1
        del self._told[same:]
        number = sum(len(told) for _, told in self._told)
        for k, group in enumerate(past.groups[same:], same):
            orders = self._orders(k, group)
            found: list[Moment] = []
            for happened in group.way:
                number += 1
                found.append(self._moment(number, happened, orders))
                orders = ()
            self._told.append((group, tuple(found)))
        return tuple(moment for _, told in self._told[since:] for moment in told)

    def _moment(self, number: int, happened: Happened, orders: tuple[Order, ...]) -> Moment:
        system, labels = self.playing.system, labels_of(self.playing.job)
        changes = changes_between(system, happened.before.state, happened.now.state)
        at_s = happened.now.at_s
        what = happening_words(self.playing, happened.happening, happened.now)
        step = Step(at_s, at_s, False, what, changes, happened.because)
        before = self.playing.seen(happened.before)
        told = changes_told(before.items(), (step,), clock=self.playing.clock is not None)[0]
        return Moment(
            number,
            at_s,
            self._clock_at(at_s),
            with_labels(what, labels),
            happened.by,
            changes,
            tuple(with_labels(words, labels) for words in told),
            self._reactions.of(happened),
            happened.because,
            orders,
        )

    def _orders(self, number: int, group: Group) -> tuple[Order, ...]:
        """The orders of a moment that can come out differently; none where it cannot."""
        if len(group.ways) < 2:
            return ()
        seen = [self.playing.seen(way[-1].now) for way in group.ways]
        differing = [name for name in seen[0] if len({each[name] for each in seen}) > 1]
        labels = labels_of(self.playing.job)
        found: list[Order] = []
        for k, (way, values) in enumerate(zip(group.ways, seen, strict=True)):
            said = ", ".join(f"{name} {values[name]}" for name in differing)
            acted = self._in_order(way)
            words = with_labels(f"{acted}: {said}" if said else f"{acted}: alike for now", labels)
            found.append(Order(f"{number}.{k}", words, k == group.chosen))
        return tuple(found)

    def _in_order(self, way: Way) -> str:
        """The rules that acted, in their order; where none did, what happened."""
        acted = [r.rule for each in way for r in self._reactions.of(each) if r.span in each.because]
        if acted:
            return ", then ".join(dict.fromkeys(acted))
        return ", then ".join(
            happening_words(self.playing, each.happening, each.now) for each in way
        )

    def script(self) -> str:
        """What was done so far as a script, for `duskproof try` (an order that was chosen is not in it).

        Empty where a script cannot tell it: a site's clock and sun have a date.
        """
        placed = self.playing.system.world.in_calendar
        if placed is not None and placed.calendar.site is not None:
            return ""
        begun = self.playing.seen(self._past.start)
        outside = {p.name for p in self.playing.job.points if p.kind.is_input}
        outside -= self.playing.job.door_of_point.keys()
        outside |= self.playing.job.door.keys() | self.playing.job.room.keys()
        starts = [f"{name} {value}" for name, value in begun.items() if name in outside]
        if self.playing.system.world.night is not None:
            starts.append(begun["sun"])
        lines = [f"starts {', '.join(starts)}"] if starts else []
        for group in self._past.groups:
            for happened in group.way:
                if happened.by in ("person", "surroundings"):
                    at = clock_words(happened.now.at_s)
                    lines.append(f"at {at} {happened.happening.what}")
        return "\n".join([*lines, f"until {clock_words(self.now_s)}", ""])

    # ------------------------------------------------------------ lanes

    def lanes(self) -> tuple[LaneShown, ...]:
        """Everything that is seen through time: outside first, then outputs, then rules."""
        playing, past = self.playing, self._past
        begun = playing.seen(past.start)
        stretches: dict[str, list[tuple[Fraction, str]]] = {
            name: [(Fraction(0), value)] for name, value in begun.items()
        }
        for moment in self.moments:
            for name, value in moment.changes:
                stretches[name].append((moment.at_s, value))
        labels = {rule.name: rule.label for rule in playing.job.rules} | labels_of(playing.job)
        found = [
            LaneShown(
                name, labels.get(name, ""), self._kind(name), _stretched(values, past.now.at_s)
            )
            for name, values in stretches.items()
        ]
        order = ("outside", "output", "rule", "claim")
        return tuple(sorted(found, key=lambda lane: order.index(lane.kind)))

    def _kind(self, name: str) -> Kind:
        job = self.playing.job
        if name in job.rule:
            return "rule"
        point = job.point.get(name)
        inside = point is not None and not point.kind.is_input
        return "output" if inside else "outside"


def _stretched(
    values: list[tuple[Fraction, str]], end_s: Fraction
) -> tuple[tuple[Fraction, Fraction, str], ...]:
    ends = [*(at for at, _ in values[1:]), end_s]
    return tuple((at, end, value) for (at, value), end in zip(values, ends, strict=True))


def _goes_on(done: History, past: History) -> bool:
    """Whether one history is the other one and more."""
    count = len(done.groups)
    if done.start is not past.start or done.now.at_s > past.now.at_s or count > len(past.groups):
        return False
    later = past.groups[count].way[0].now.at_s if count < len(past.groups) else past.now.at_s
    same = all(a is b for a, b in zip(done.groups, past.groups, strict=False))
    return same and later >= done.now.at_s


def _first_thing(owed: list[Happened]) -> list[Happened]:
    """Of what the surroundings can do the first: in every order of handling."""
    return [each for each in owed if each.happening == owed[0].happening]


def _never_settles(endless: NeverSettles) -> NotPossible:
    return NotPossible(
        f"what this sets off ({endless.args[0]}) never settles: the rules go round with no time "
        "passing",
        "A proof of the job shows the rules of the chain (endless-chain).",
    )
