"""A played run as a timing diagram: which lanes it needs, what runs down, where the causes are."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from verifier.explain.clock_words import ClockTold
from verifier.explain.diagram import Bar, Diagram, Instant, Kind, Lane, Mark
from verifier.explain.observed import Observed
from verifier.explain.phrases import happening_words, leaf_words
from verifier.explain.told import REPORTED
from verifier.explain.why import Why, leaves_of
from verifier.graph.access import event_name
from verifier.model.job import (
    AtMostTimes,
    Condition,
    DayBegins,
    Event,
    Is,
    Job,
    LeadsTo,
    Level,
    MeasureLongest,
    Night,
    NightBegins,
    PointKind,
    Requirement,
    Rule,
    Running,
    Stayed,
    atoms_and_leaves,
    conditions_and_events_of,
    read_by_rule,
)
from verifier.model.words import duration
from verifier.simulate.seen import seen_values

SUN = "sun"


def subject_of(leaf: Condition) -> str:
    """The name of what a leaf of a condition is about; empty if it is about none."""
    match leaf:
        case Is(subject) | Level(subject):
            return subject
        case Stayed(atom):
            return atom.subject
        case Night():
            return SUN
        case Running(rule):
            return rule
        case _:
            return ""


def subject_of_event(event: Event) -> str:
    """The name of what an event is about (``sun`` of night and day); empty if it is about none."""
    return SUN if isinstance(event, NightBegins | DayBegins) else event_name(event)


def subjects_in(job: Job, requirement: Requirement, seen: Observed) -> frozenset[str]:
    """The subjects that the story is about: those that change or are claimed."""
    wanted: set[str] = set()
    _, events = conditions_and_events_of(requirement.form)
    wanted |= {subject_of(leaf) for leaf in leaves_of(requirement)}
    wanted |= {subject_of_event(event) for event in events}
    if isinstance(requirement.form, LeadsTo):
        wanted.add(requirement.form.rule)
    system = seen.played.system
    everything = [seen_values(system, state) for state in seen.states]
    named = {subject_of(leaf) for rule in _acting(job, seen) for leaf in _read(rule)}
    named |= {subject_of_event(t.event) for rule in _acting(job, seen) for t in rule.triggers}
    for before, after in pairwise(everything):
        for subject, value in after.items():
            if before[subject] != value and not _redundant(job, subject, named | wanted):
                wanted.add(subject)
    if SUN in everything[0] and SUN in named:
        wanted.add(SUN)
    return frozenset(wanted - {""})


def _acting(job: Job, seen: Observed) -> list[Rule]:
    spans = {span for step in seen.played.steps for span in step.because}
    return [r for r in job.rules if any(t.span in spans for t in r.triggers)]


def _read(rule: Rule) -> list[Condition]:
    return [leaf for c in read_by_rule(rule)[0] for leaf in atoms_and_leaves(c)]


def _redundant(job: Job, subject: str, named: set[str]) -> bool:
    """A door's own switches say what the door's lane says, unless somebody reads them."""
    return (subject in job.door_of_point and subject not in named) or subject == "clock"


def drawn(
    job: Job,
    requirement: Requirement,
    seen: Observed,
    why: Why,
    letters: Sequence[str],
    clock: ClockTold | None,
    cycle_from: int | None,
    matter: frozenset[str] = frozenset(),
) -> Diagram:
    """The diagram of a run that breaks a requirement; its title is left empty.

    ``matter`` are subjects that get a lane though they keep still.
    """
    system = seen.played.system
    wanted = subjects_in(job, requirement, seen) | matter
    values = [seen_values(system, state) for state in seen.states]
    subjects = [s for s in values[0] if s in wanted]
    lanes = [_lane(job, s, tuple(v[s] for v in values)) for s in _ordered(job, subjects)]
    lanes.append(_claim(requirement, seen, why))
    number = {lane.subject: n for n, lane in enumerate(lanes)}
    instants = []
    for k, at_s in enumerate(seen.at_s):
        happening = seen.happenings[k]
        words = "" if happening is None else happening_words(seen.played, happening)
        exact = (at_s * 1000).denominator == 1
        end = seen.played.fails
        just_after = k == seen.last and happening is None and end is not None and end[1]
        shown = at_s if exact else Fraction(int(at_s * 1000), 1000)
        told = "" if clock is None else clock.at(at_s)
        instants.append(Instant(shown, just_after or not exact, told, words))
    marks = []
    for letter, cause in zip(letters, why.causes, strict=False):
        if cause.event is not None:
            subject, said = subject_of_event(cause.event), "it happens"
        else:
            assert cause.leaf is not None
            subject, said = subject_of(cause.leaf), leaf_words(cause.leaf, true=cause.true)
        if subject in number:
            at = cause.number if cause.event is not None else cause.until
            marks.append(Mark(number[subject], at, letter, said))
    return Diagram("", tuple(instants), tuple(lanes), _bars(seen, number), tuple(marks), cycle_from)


def _ordered(job: Job, subjects: list[str]) -> list[str]:
    """The surroundings first, then rules, then what they set."""
    rank = {"outside": 0, "rule": 1, "output": 2, "claim": 3}
    return sorted(subjects, key=lambda s: rank[_kind(job, s)])


def _kind(job: Job, subject: str) -> Kind:
    if subject in job.rule:
        return "rule"
    point = job.point.get(subject.removesuffix(REPORTED))
    if point is not None and (point.kind.is_output or point.kind is PointKind.FLAG):
        return "output"
    return "outside"


def _lane(job: Job, subject: str, values: tuple[str, ...]) -> Lane:
    kind = _kind(job, subject)
    labels = {point.name: point.label for point in job.points}
    labels |= {door.name: door.label for door in job.doors}
    labels |= {room.name: room.label for room in job.rooms}
    label = labels.get(subject) or subject
    if subject == SUN:
        label = "Night or day"
    return Lane(subject, label, kind, values, tuple(_height(job, subject, v) for v in values))


_HIGH = frozenset({"on", "open", "reached", "occupied", "dark", "yes", "peopled", "night"})
_LOW = frozenset({"off", "shut", "clear", "vacant", "bright", "no", "empty", "day", "idle"})


def _height(job: Job, subject: str, value: str) -> Fraction | None:
    if value in _LOW:
        return Fraction(0)
    if value in _HIGH or "running" in value:
        return Fraction(1)
    head = value.split(" ")[0]
    if value.endswith("%") and head.replace(".", "").isdigit():
        return Fraction(head) / 100
    return None


def _claim(requirement: Requirement, seen: Observed, why: Why) -> Lane:
    """The requirement's own lane: from when on it is called on, and where it is broken."""
    last = seen.last
    values = []
    for k in range(last + 1):
        if k == last:
            values.append("kept" if seen.played.fails is None else "broken")
        elif k < why.since:
            values.append("")
        elif isinstance(requirement.form, LeadsTo | MeasureLongest):
            values.append("not yet so" if isinstance(requirement.form, LeadsTo) else "measured")
        elif isinstance(requirement.form, AtMostTimes):
            values.append("counted")
        else:
            values.append("called on")
    return Lane("", "the promise", "claim", tuple(values), (None,) * (last + 1))


# ---------------------------------------------------------------- what runs down


def _bars(seen: Observed, number: dict[str, int]) -> tuple[Bar, ...]:
    """The waits of runs and the timers of rules, from where they begin to where they end."""
    system = seen.played.system
    found: list[Bar] = []
    for r, rule in enumerate(system.rules):
        if rule.name not in number:
            continue
        for slot, clock in zip(system.slots[r], system.slot_clocks[r], strict=True):
            for place in system.codes[r].places:
                if place.for_s is None:
                    continue
                limit = system.unit(place.for_s)
                words = duration(place.for_s)
                if place.until is not None:
                    words = f"at most {words}"
                if place.fade is not None:
                    words = f"fade, {words}"
                resting = ((slot, system.at(place.number)),)
                found.extend(_counted(seen, resting, clock, limit, number[rule.name], words))
    for timer in system.timers:
        name = system.layout.variables[timer.variable].name
        if timer.of_rules and name in number:
            seconds = duration(system.unit.seconds(Fraction(timer.limit)))
            words = f"{system.world.words(timer.variable, timer.mask)} for {seconds}?"
            counting = ((timer.variable, timer.mask), (timer.ran_out, 1))
            found.extend(_counted(seen, counting, timer.clock, timer.limit, number[name], words))
    return tuple(sorted(found, key=lambda bar: (bar.lane, bar.begin)))


def _counted(
    seen: Observed,
    when: tuple[tuple[int, int], ...],
    clock: int,
    limit: int,
    lane: int,
    words: str,
) -> list[Bar]:
    """The stretches in which a clock counts up to a limit."""
    size, found = seen.played.system.unit.size_s, []
    begin: int | None = None
    for k, state in enumerate(seen.states):
        counts = all(state.values[v] & m for v, m in when)
        if begin is not None and (not counts or state.clocks[clock] == 0):
            gone = (seen.at_s[k] - seen.at_s[begin]) / size
            if k > begin and (gone or not counts):
                found.append(Bar(lane, begin, k, max(Fraction(0), 1 - gone / limit), words))
            begin = None
        if counts and begin is None:
            begin = k
    if begin is not None and begin < seen.last:
        gone = (seen.at_s[seen.last] - seen.at_s[begin]) / size
        found.append(Bar(lane, begin, seen.last, max(Fraction(0), 1 - gone / limit), words))
    return found
