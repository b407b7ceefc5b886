"""Predictions graded, and hints: what is right is what the interpreter says, and which line made it so.

A prediction is a lane: what a thing is through time while a script is played. The first moment at
which it is not so is told with the reason: the line that acted there; or, where nothing acted,
what the rules that set the thing were doing instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.blame import blamed
from verifier.explain.figures import listed, moment, rounded
from verifier.explain.playback import case_on
from verifier.explain.story import Story, story_of
from verifier.model.job import Job, Requirement, set_by, statements_of
from verifier.model.words import duration
from verifier.simulate.run import Run
from verifier.simulate.script import SUN, Happens, Script
from verifier.simulate.script_play import Played, play
from verifier.source import Span
from verifier.teach.playing import CannotBegin
from verifier.teach.room import NotPossible, RoomSession
from verifier.teach.room_values import Moment

Lane = tuple[tuple[Fraction, str], ...]
"""What a thing is through time: (seconds from the start, value from then on), the start first."""

NO_TOLERANCE = Fraction(0)


class CannotAsk(Exception):
    """A prediction has no one right answer, or none at all: ``args[0]`` says why."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a thing is as it is at a moment: in words, with the lines, and the rules that they are of."""

    words: str
    lines: tuple[Span, ...]
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """The first moment at which a drawn lane is not as it is."""

    at_s: Fraction
    drawn: str
    is_so: str
    words: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class LaneGraded:
    """What came of a drawn lane; ``lane`` is the right one, ``difference`` None if it was right."""

    lane: Lane
    difference: Difference | None

    @property
    def right(self) -> bool:
        """Whether the lane was right."""
        return self.difference is None


# ---------------------------------------------------------------- lanes


def lane_of(job: Job, script: Script, thing: str) -> Lane:
    """What a thing is while a script is played, as each moment ends.

    Raises: CannotPlay; CannotAsk if the order of handling makes a difference to it, or if nothing
    of that name is seen.
    """
    played = play(job, script, every_order=True)
    start = dict(played.run.start)
    if thing not in start:
        raise CannotAsk(f"nothing that is called {thing} can be seen")
    if played.impossible:
        line, why = played.impossible[0]
        raise CannotAsk(f"`{line.words}` is not possible in every order: {why}")
    if played.differs is not None and thing in dict(played.differs.values):
        at = moment(played.differs.at_s, False)
        raise CannotAsk(f"the order of handling makes a difference to {thing} at {at}")
    return _lane(played, thing, start[thing])


def _lane(played: Played, thing: str, first: str) -> Lane:
    lane = [(Fraction(0), first)]
    for step in played.run.steps:
        for subject, value in step.changes:
            if subject != thing:
                continue
            if lane[-1][0] == step.at_s:
                lane.pop()
            lane.append((step.at_s, value))
    return joined(tuple(lane))


def joined(lane: Lane) -> Lane:
    """The lane without changes to what it is already.

    >>> joined(((Fraction(0), "off"), (Fraction(3), "off"), (Fraction(5), "on")))
    ((Fraction(0, 1), 'off'), (Fraction(5, 1), 'on'))
    """
    found: list[tuple[Fraction, str]] = []
    for at, value in lane:
        if not found or found[-1][1] != value:
            found.append((at, value))
    return tuple(found)


def value_at(lane: Lane, at_s: Fraction) -> str:
    """What a lane says of a moment, as it ends.

    >>> value_at(((Fraction(0), "off"), (Fraction(5), "on")), Fraction(5))
    'on'
    """
    return [value for since, value in lane if since <= at_s][-1]


def graded_lane(
    job: Job, script: Script, thing: str, drawn: Lane, tolerance_s: Fraction = NO_TOLERANCE
) -> LaneGraded:
    """What comes of a drawn lane, up to the end of the script.

    ``tolerance_s``: a change drawn so near to the real one counts as drawn there.
    Raises: CannotPlay, CannotAsk; ValueError of a lane that does not say how it begins.
    """
    if not drawn or drawn[0][0] != 0:
        raise ValueError("a lane says first how it begins")
    right = lane_of(job, script, thing)
    given = _snapped(
        joined(tuple(each for each in drawn if each[0] <= script.until_s)), right, tolerance_s
    )
    moments = sorted({at for at, _ in (*given, *right)})
    at = next((at for at in moments if value_at(given, at) != value_at(right, at)), None)
    if at is None:
        return LaneGraded(right, None)
    has, is_so = value_at(given, at), value_at(right, at)
    when = f"from {rounded(at)} on" if at else "at the start"
    words = f"Right up to there; {when} you have “{has}”, and it is “{is_so}”."
    if not at:
        words = f"At the start you have “{has}”, and it is “{is_so}”."
    return LaneGraded(right, Difference(at, has, is_so, words, why_so(job, script, thing, at)))


def _snapped(drawn: Lane, right: Lane, tolerance_s: Fraction) -> Lane:
    """The drawn lane with each change put where the real one is, if it is near and to the same value."""
    found = [drawn[0]]
    for at, value in drawn[1:]:
        near = [since for since, to in right[1:] if to == value and abs(since - at) <= tolerance_s]
        place = min(near, key=lambda since: abs(since - at), default=at)
        if place < found[-1][0]:
            place = at
        found.append((place, value))
    return joined(tuple(found))


# ---------------------------------------------------------------- why


def why_so(job: Job, script: Script, thing: str, at_s: Fraction) -> Reason:
    """Why a thing is as it is at a moment of a script: the line that acted, or what its rules did.

    Raises: CannotPlay.
    """
    session = _followed(job, script, at_s)
    if session is None:
        return Reason("", (), ())
    moments = session.moments
    here = [m for m in moments if m.at_s == at_s and thing in dict(m.changes)]
    if here:
        return _what_acted(here[-1], thing)
    setters = {
        rule.name for rule in job.rules if any(set_by(s) == thing for s in statements_of(rule.body))
    }
    return _what_was_done_instead(session, moments, setters | {thing}, thing, at_s)


def _what_acted(moment_of: Moment, thing: str) -> Reason:
    acted = [r for r in moment_of.reactions if r.span in moment_of.lines]
    value = dict(moment_of.changes)[thing]
    words = f"{_at(moment_of.at_s)} {moment_of.what}"
    if acted:
        words += f": {listed(tuple(r.words for r in acted))}"
    lines = tuple(dict.fromkeys(r.span for r in acted))
    return Reason(f"{words}, and {thing} is {value}.", lines, tuple(r.rule for r in acted))


def _what_was_done_instead(
    session: RoomSession,
    moments: tuple[Moment, ...],
    rules: set[str],
    thing: str,
    at_s: Fraction,
) -> Reason:
    """Of a moment at which nothing changes the thing: the last that its rules did, what they wait for."""
    said: list[str] = []
    lines: list[Span] = []
    named: list[str] = []
    last = next((m for m in reversed(moments) if any(r.rule in rules for r in m.reactions)), None)
    if last is not None:
        for reaction in last.reactions:
            if reaction.rule in rules:
                said.append(f"{_at(last.at_s)} {last.what}: {reaction.words}")
                lines.append(reaction.span)
                named.append(reaction.rule)
    for rule in session.rules:
        if rule.name not in rules:
            continue
        for run in rule.runs:
            left = "" if run.left_s is None else f", and has {rounded(run.left_s)} left"
            said.append(f"{_at(at_s)} {rule.name} {run.waits}{left}")
            lines.append(run.line)
            named.append(rule.name)
    if not said:
        said.append(f"no rule that sets {thing} has been set off up to there")
    words = "; ".join(said)
    unique = tuple(dict.fromkeys(named))
    return Reason(f"Nothing changes {thing} there. {words[0].upper()}{words[1:]}.",
                  tuple(dict.fromkeys(lines)), unique)  # fmt: skip


def _at(at_s: Fraction) -> str:
    return f"At {rounded(at_s)}" if at_s else "At the start"


def _followed(job: Job, script: Script, at_s: Fraction) -> RoomSession | None:
    """A room in which a script was played up to a moment; None if it comes out otherwise there."""
    played = play(job, script)
    starts = tuple(("sun" if s.subject == SUN else s.subject, s.value) for s in script.starts)
    clock = played.run.clock
    try:
        session = RoomSession(job, starts, None if clock is None else clock.begins_s)
        for line in script.lines:
            if isinstance(line, Happens) and line.at_s <= at_s:
                session.pass_time(line.at_s - session.now_s)
                session.do(line.words)
        session.pass_time(at_s - session.now_s)
    except (CannotBegin, NotPossible):
        return None
    mine = [(m.at_s, dict(m.changes)) for m in session.moments]
    theirs = [(s.at_s, dict(s.changes)) for s in played.run.steps if s.at_s <= at_s]
    return session if _same(mine, theirs) else None


def _same(
    mine: list[tuple[Fraction, dict[str, str]]], theirs: list[tuple[Fraction, dict[str, str]]]
) -> bool:
    """Whether two ways of playing a script show the same of what both have."""
    shown = {name for _, changes in mine for name in changes}
    kept = [(at, {n: v for n, v in c.items() if n in shown and n != "clock"}) for at, c in theirs]
    without = [(at, {n: v for n, v in c.items() if n != "clock"}) for at, c in mine]
    return [each for each in without if each[1]] == [each for each in kept if each[1]]


# ---------------------------------------------------------------- hints


@dataclass(frozen=True, slots=True)
class HintTold:
    """One of three hints from a failing case: 1 where to look, 2 when it goes wrong, 3 the run.

    ``lines`` are the places to look at; ``run`` comes with the third alone, and can be shown in a
    room.
    """

    step: int
    words: str
    lines: tuple[Span, ...]
    run: Run | None


def hints_of(job: Job, requirement: Requirement, run: Run) -> tuple[HintTold, HintTold, HintTold]:
    """Three hints from the run by which a requirement fails, each telling more than the one before."""
    story = story_of(job, requirement, run)
    return _where(job, requirement, run), _when(run, story), _how(run, story)


def _where(job: Job, requirement: Requirement, run: Run) -> HintTold:
    blames = blamed(job, requirement, case_on(job, requirement, run))
    rules = tuple(dict.fromkeys(blame.rule for blame in blames))
    if rules:
        lines = tuple(job.rule[name].span for name in rules)
        which = "them" if len(rules) > 1 else "it"
        words = f"Look at {listed(rules, 'or')}: with one thing changed in {which} this case would go well."
        return HintTold(1, words, lines, None)
    acted = [step for step in run.steps if step.because]
    if acted:
        lines = tuple(dict.fromkeys(acted[-1].because))
        return HintTold(1, "Look at the lines that acted last in the case.", lines, None)
    words = (
        "In the case that breaks it no rule acts. Which rule ought to, and what does it listen for?"
    )
    return HintTold(1, words, (), None)


def _when(run: Run, story: Story | None) -> HintTold:
    ends_s, just_after = run.end_s
    if story is not None:
        return HintTold(2, f"{story.title.rstrip('.')}.", (), None)
    return HintTold(
        2, f"It goes wrong {'' if just_after else 'at '}{moment(ends_s, just_after)}.", (), None
    )


def _how(run: Run, story: Story | None) -> HintTold:
    if story is None:
        steps = [f"{duration(step.at_s)}: {step.what}" for step in run.steps]
    else:
        steps = [
            f"{m.clock or moment(m.at_s, m.just_after)}: {m.what}"
            + (f" ({', '.join(m.changes)})" if m.changes else "")
            for m in story.moments
        ]
        steps.append(story.ends)
    lines = tuple(dict.fromkeys(span for step in run.steps for span in step.because))
    return HintTold(3, "; ".join(steps), lines, run)
