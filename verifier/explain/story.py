"""A failing case as a story: a title, the instants at which something changes, causes, a picture.

Everything in it is read off a run that the reference interpreter has replayed, and a part of it is
tried out on the interpreter: that no happening can be left out, and what could be anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.explain.clock_words import ClockTold
from verifier.explain.diagram import Diagram
from verifier.explain.drawn import drawn, subjects_in
from verifier.explain.figures import moment
from verifier.explain.observed import Observed, observed, shown_steps
from verifier.explain.phrases import happening_words, leaf_words
from verifier.explain.playback import (
    Case,
    Impossible,
    Played,
    case_on,
    outside_of,
    play,
)
from verifier.explain.titles import title_of
from verifier.explain.told import changes_told, start_told
from verifier.explain.why import Cause, Why, why
from verifier.graph.access import event_name
from verifier.model.job import (
    Job,
    LeadsTo,
    MeasureLongest,
    PointKind,
    Requirement,
    Rule,
    set_by,
    statements_of,
)
from verifier.model.words import event_words, trigger_words
from verifier.model.words import words as in_words
from verifier.simulate.run import Run
from verifier.simulate.seen import changes_between, seen_values
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class Reaction:
    """A rule that acted, the line that made it (``upon …`` or a wait), in its own words."""

    rule: str
    span: Span
    words: str


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant of the story.

    ``clock`` is the time of day, empty if the run has none. ``changes`` in words; ``reactions`` of
    rules in the order in which they acted. ``outside``: it came from outside.
    """

    number: int
    at_s: Fraction
    just_after: bool
    clock: str
    what: str
    outside: bool
    changes: tuple[str, ...]
    reactions: tuple[Reaction, ...]


@dataclass(frozen=True, slots=True)
class CauseTold:
    """A cause: the letter that marks it in the picture, when, and in words with what brought it about."""

    letter: str
    at: str
    words: str
    because: str


@dataclass(frozen=True, slots=True)
class Story:
    """A failing case, told.

    ``least``: without any one of its happenings it does not fail; ``needs`` says so in a sentence
    (empty if it is not so, or if nothing happens). ``anything`` are inputs that could be anything;
    ``ends`` how it ends, in a sentence.
    """

    title: str
    start: tuple[str, ...]
    moments: tuple[Moment, ...]
    ends: str
    causes: tuple[CauseTold, ...]
    anything: tuple[str, ...]
    least: bool
    needs: str
    diagram: Diagram
    run: Run
    case: Case
    played: Played


def story_of(job: Job, requirement: Requirement, run: Run) -> Story | None:
    """The story of a run that breaks a requirement; None if it cannot be played here.

    (Playing gives up where there is more to try than it tries: the run itself stays what it is.)
    """
    case = case_on(job, requirement, run)
    played = play(job, requirement, case)
    if isinstance(played, Played) and played.fails is None:
        # A monitor that guesses: the way that fails, if it is the same for all that is seen.
        played = play(job, requirement, case, "fails")
    if isinstance(played, Impossible) or not _same(played, run):
        return None
    if played.cycle_from is not None:
        case = replace(case, until_s=played.until_s)  # it may be seen to go round sooner
    seen = observed(played)
    found = why(requirement, seen)
    moments = _moments(job, run, played)
    causes = _causes(job, seen, found, moments)
    told = ClockTold(run.clock) if run.clock is not None else None
    lasting = isinstance(requirement.form, LeadsTo | MeasureLongest) and played.fails is None
    cycle = _cycle(run, played)
    anything, matter = _inputs(job, requirement, case, played)
    letters = [c.letter for c in causes]
    diagram = drawn(job, requirement, seen, found, letters, told, cycle, matter)
    return Story(
        title_of(requirement, seen, found, run, told),
        _start(job, seen, subjects_in(job, requirement, seen) | matter),
        moments,
        _ends(run, cycle, len(moments), lasting=lasting),
        causes,
        anything,
        *_least(job, requirement, case),
        replace(diagram, title=title_of(requirement, seen, found, run, told)),
        run,
        case,
        played,
    )


def _same(played: Played, run: Run) -> bool:
    """Whether a playback went the way of the run."""
    steps = [step.happening.what for step in played.steps[: len(run.steps)]]
    alike = steps == [step.what for step in run.steps[: len(steps)]]
    # What goes round for ever may be seen to do so sooner here.
    return alike and (len(steps) == len(run.steps) or run.cycle_from is not None)


# ---------------------------------------------------------------- start and moments


def _start(job: Job, seen: Observed, wanted: frozenset[str]) -> tuple[str, ...]:
    """What is so at the start, as far as it has to do with the story."""
    values = seen_values(seen.played.system, seen.states[0])
    clock = seen.played.system.world.in_calendar is not None
    names = {rule.name for rule in job.rules}
    return tuple(
        words
        for subject, words in start_told(values.items(), clock)
        if subject in wanted and not (subject in names and values[subject] == "idle")
    )


def _moments(job: Job, run: Run, played: Played) -> tuple[Moment, ...]:
    told = ClockTold(run.clock) if run.clock is not None else None
    changes = changes_told(run.start, run.steps, run.clock is not None)
    outside = outside_of(played.system)
    found = []
    for number, k in enumerate([k for k in shown_steps(played) if k < len(run.steps)], 1):
        step, done = run.steps[k], played.steps[k]
        exact = (step.at_s * 1000).denominator == 1
        found.append(
            Moment(
                number,
                step.at_s if exact else step.earliest_s,
                not exact,
                "" if told is None else told.at(step.at_s),
                happening_words(played, done.happening),
                step.what in outside,
                changes[k],
                tuple(reactions(job, step.because, dict(step.changes), step.what)),
            )
        )
    return tuple(found)


def reactions(
    job: Job, because: tuple[Span, ...], changed: dict[str, str], what: str
) -> list[Reaction]:
    """The rules that acted in a step, each with the line that made it act."""
    found = []
    for span in because:
        rules = [r for r in job.rules if span in _lines(r)]
        # Rules of one typical share their lines: then it is the one that is named in the step.
        chosen = [r for r in rules if r.name in changed] or [
            r for r in rules if any(event_name(t.event) in what.split() for t in r.triggers)
        ]
        for rule in (chosen or rules)[:1]:
            found.append(Reaction(rule.name, span, _lines(rule)[span]))
    return found


def _lines(rule: Rule) -> dict[Span, str]:
    """The lines of a rule at which it can act, in its own words."""
    found = {t.span: trigger_words(t) for t in rule.triggers}
    for statement in statements_of(rule.body):
        found[statement.span] = in_words(statement)
    return found


def _cycle(run: Run, played: Played) -> int | None:
    """The instant from which it goes round for ever; as it was played, that may be seen sooner."""
    if run.cycle_from is None:
        return None
    first = run.cycle_from if played.cycle_from is None else played.cycle_from
    shown = shown_steps(played)
    return next((number for number, k in enumerate(shown, 1) if k >= first), len(shown))


def _ends(run: Run, cycle: int | None, last: int, *, lasting: bool) -> str:
    if cycle is not None:
        again = f"Instants {cycle} to {last} come" if cycle < last else f"Instant {last} comes"
        return f"{again} again and again: it goes round for ever."
    if run.rests or lasting:
        return "After that nothing more happens by itself: it stays so."
    at = moment(*run.end_s)
    broken = f"The promise is broken {at if run.end_s[1] else f'at {at}'}."
    if last:
        return broken
    return (
        f"{broken} Nothing has happened before: it begins so. If it cannot begin so, say with "
        "`starts` how the points begin."
    )


# ---------------------------------------------------------------- causes


def _causes(
    job: Job, seen: Observed, found: Why, moments: tuple[Moment, ...]
) -> tuple[CauseTold, ...]:
    told = []
    for letter, cause in zip("abcdefghijklmnopqrstuvwxyz", found.causes, strict=False):
        at = moment(seen.at_s[cause.number], False)
        if cause.event is not None:
            words, because = event_words(cause.event), ""
        else:
            assert cause.leaf is not None
            words = leaf_words(cause.leaf, true=cause.true)
            if seen.at_s[cause.until] > seen.at_s[cause.number]:
                at += f" to {moment(seen.at_s[cause.until], False)}"
            because = _brought_about(job, seen, cause, moments)
        told.append(CauseTold(letter, at, words, because))
    return tuple(told)


def _brought_about(job: Job, seen: Observed, cause: Cause, moments: tuple[Moment, ...]) -> str:
    """What made a value what it is: the rule that set it last, or that none did."""
    subject = getattr(cause.leaf, "subject", None)
    if (
        subject is None
        or subject not in job.point
        or not (job.point[subject].kind.is_output or job.point[subject].kind is PointKind.FLAG)
    ):
        return ""
    for number in range(min(cause.until, len(moments)), 0, -1):
        moment_ = moments[number - 1]
        before, after = seen.states[number - 1], seen.states[number]
        changed = subject in dict(changes_between(seen.played.system, before, after))
        who = [
            r
            for r in moment_.reactions
            if any(set_by(s) == subject for s in statements_of(job.rule[r.rule].body))
        ]
        if not changed and len(who) > 1:
            order = ", then ".join(r.rule for r in who)
            return f"at instant {number} {order} act on it, in this order"
        if changed and who:
            return f"set by {who[-1].rule} at instant {number} ({who[-1].words})"
        if changed:
            return f"since instant {number}: {moment_.what}"
    drivers = [
        r.name for r in job.rules if any(set_by(s) == subject for s in statements_of(r.body))
    ]
    return f"no rule has set it ({', '.join(drivers)} could have)" if drivers else "no rule sets it"


# ---------------------------------------------------------------- what matters and what does not


def _inputs(
    job: Job, requirement: Requirement, case: Case, played: Played
) -> tuple[tuple[str, ...], frozenset[str]]:
    """Inputs, doors and rooms that could be anything, and inputs that keep still and matter.

    Could be anything: what is outside the part, and what was tried otherwise at the start, where it
    fails all the same. What matters: with the other value at the start it does not fail.
    """
    inside = {p.name for p in played.system.job.points}
    inside |= {d.name for d in played.system.job.doors} | {r.name for r in played.system.job.rooms}
    found = [
        p.name
        for p in job.points
        if p.kind.is_input and p.name not in inside and p.name not in job.door_of_point
    ]
    found.extend(d.name for d in job.doors if d.name not in inside)
    found.extend(r.name for r in job.rooms if r.name not in inside)
    happening = {name for o in case.occurs for name in o.what.split()}
    matter: list[str] = []
    for subject, value in case.start:
        point = job.point.get(subject)
        if point is None or not point.kind.is_input or subject in happening or subject in found:
            continue
        if subject in job.door_of_point or not point.kind.values or point.starts is not None:
            continue
        other = next(v for v in point.kind.values if v != value)
        start = tuple((s, other if s == subject else v) for s, v in case.start)
        again = play(job, requirement, replace(case, start=start))
        fails = isinstance(again, Played) and again.fails is not None
        (found if fails else matter).append(subject)
    return tuple(found), frozenset(matter)


def _least(job: Job, requirement: Requirement, case: Case) -> tuple[bool, str]:
    """Whether it does not fail without any one of its happenings; and that in a sentence."""
    sure = True
    for k in range(len(case.occurs)):
        again = play(job, requirement, _without(case, k), "fails")
        if isinstance(again, Played) and again.fails is not None:
            return False, ""
        sure &= not again.awaits if isinstance(again, Impossible) else again.keeps
    if not case.occurs:
        return True, ""
    many = len(case.occurs)
    if not sure:
        what = (
            "What happens outside cannot"
            if many == 1
            else f"None of the {many} happenings outside can"
        )
        return True, (
            f"{what} just be left out: then it goes well, or something else has to happen instead."
        )
    what = "what happens outside" if many == 1 else f"any one of the {many} happenings outside"
    return True, f"Leave out {what}, and it goes well."


def _without(case: Case, k: int) -> Case:
    return replace(case, occurs=case.occurs[:k] + case.occurs[k + 1 :])
