"""Why a thing is so at a moment of a script, and where to look in a failing case.

The reason is the line that acted there; or, where nothing acted, what the rules that set the thing
were doing instead. It is told from a room in which the script was followed.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.explain.blame import blamed
from verifier.explain.figures import listed, rounded
from verifier.explain.playback import case_on
from verifier.model.job import Job, Requirement, set_by, statements_of
from verifier.simulate.run import Run
from verifier.simulate.script import SUN, Happens, Script
from verifier.simulate.script_play import play
from verifier.source import Span
from verifier.teach.playing import CannotBegin
from verifier.teach.room import NotPossible, RoomSession
from verifier.teach.room_values import Moment


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a thing is as it is at a moment: in words, with the lines, and the rules that they are of."""

    words: str
    lines: tuple[Span, ...]
    rules: tuple[str, ...]


def why_so(job: Job, script: Script, thing: str, at_s: Fraction) -> Reason:
    """Why a thing is as it is at a moment of a script: the line that acted, or what its rules did.

    Raises: CannotPlay.
    """
    session = _followed(job, script, thing, at_s)
    if session is None:
        return Reason("", (), ())
    moments = session.moments
    here = [m for m in moments if m.at_s == at_s and thing in dict(m.changes)]
    if here:
        return _what_acted(here[-1], thing)
    setters = {
        rule.name for rule in job.rules if any(set_by(s) == thing for s in statements_of(rule.body))
    }
    return _what_was_done_instead(
        session, moments, setters | ({thing} & job.rule.keys()), thing, at_s
    )


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
    last = next((m for m in reversed(moments) if _is_about(m, rules)), None)
    if last is not None:
        reacted = [reaction for reaction in last.reactions if reaction.rule in rules]
        for reaction in reacted:
            said.append(f"{_at(last.at_s)} {last.what}: {reaction.words}")
            lines.append(reaction.span)
            named.append(reaction.rule)
        # A run that is lost, or cancelled, is no reaction of its rule.
        for name, value in last.changes:
            if name in rules and all(reaction.rule != name for reaction in reacted):
                said.append(f"{_at(last.at_s)} {last.what}: {name} is {value}")
                named.append(name)
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
    words = ". ".join(said)
    unique = tuple(dict.fromkeys(named))
    return Reason(f"Nothing changes {thing} there. {words[0].upper()}{words[1:]}.",
                  tuple(dict.fromkeys(lines)), unique)  # fmt: skip


def _is_about(moment: Moment, rules: set[str]) -> bool:
    """Whether one of the rules reacted, or lost a run."""
    return any(r.rule in rules for r in moment.reactions) or any(
        n in rules for n, _ in moment.changes
    )


def _at(at_s: Fraction) -> str:
    return f"At {rounded(at_s)}" if at_s else "At the start"


def _followed(job: Job, script: Script, thing: str, at_s: Fraction) -> RoomSession | None:
    """A room in which a script was played up to a moment; None if the thing is otherwise there."""
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
    mine = [(m.at_s, value) for m in session.moments for n, value in m.changes if n == thing]
    theirs = [
        (step.at_s, value)
        for step in played.run.steps
        if step.at_s <= at_s
        for name, value in step.changes
        if name == thing
    ]
    return session if mine == theirs else None


def rules_to_look_at(job: Job, requirement: Requirement, run: Run) -> tuple[str, ...]:
    """The rules of which one single change lets a failing case go well, in declared order."""
    found = blamed(job, requirement, case_on(job, requirement, run))
    return tuple(dict.fromkeys(blame.rule for blame in found))
