"""Answers to the questions of a lesson, graded; what is right of a lane is what the interpreter says."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.model.figures import Quantity, Unit, quantity
from verifier.model.job import Job, PointKind
from verifier.model.words import duration, number
from verifier.simulate.script_play import play
from verifier.source import Span
from verifier.teach.answers import (
    NotUnderstood,
    joined,
    lane_text,
    read_choice,
    read_figure,
    read_lane,
    read_word,
)
from verifier.teach.lesson import Choose, Figure, Lane, Lesson, Predict, Question, Word
from verifier.teach.reasons import why_so


@dataclass(frozen=True, slots=True)
class Graded:
    """What came of an answer. ``words`` say it, ``why`` is the author's reason.

    Of a lane: ``differs_s`` is the first moment at which it is not what the interpreter says,
    ``lines`` the lines that acted there, ``given`` and ``right_lane`` both lanes.
    """

    right: bool
    words: str
    why: str
    differs_s: Fraction | None = None
    lines: tuple[Span, ...] = ()
    given: Lane = ()
    right_lane: Lane = ()


def answered(lesson: Lesson, number: int, text: str) -> Graded:
    """What comes of the answer to the question with this number (1 is the first).

    Raises: NotUnderstood (it is neither right nor wrong), IndexError.
    """
    if number < 1:
        raise IndexError(number)
    return graded(lesson, lesson.questions[number - 1], text)


def graded(lesson: Lesson, question: Question, text: str) -> Graded:
    """What comes of an answer to a question. Raises: NotUnderstood."""
    match question:
        case Predict():
            return lane_graded(lesson.job(question.job).job, question, read_lane(text))
        case Word(_, keys, why):
            given = read_word(text)
            right = given in keys
            said = "Right." if right else f"Not quite: “{keys[0]}”."
            return Graded(right, said, why)
        case Figure(_, key, told, why):
            figure = read_figure(text)
            right = figure == key
            said = "Right." if right else f"Not quite: {told}."
            return Graded(right, said, why)
        case Choose(_, options, place, why):
            right = read_choice(text, question) == place
            said = "Right." if right else f"Not quite: {place + 1}, “{options[place]}”."
            return Graded(right, said, why)


def lane_graded(job: Job, question: Predict, given: Lane) -> Graded:
    """What comes of a lane that was drawn. Raises: NotUnderstood if a value is none of the thing's."""
    known = values_of(job, question.thing)
    given = tuple((at, _as_it_is_said(value, known)) for at, value in given)
    strange = next((v for _, v in given if known and v not in known and not v.endswith("%")), None)
    if strange is not None:
        raise NotUnderstood(f"{question.thing} is never “{strange}”: it is {' or '.join(known)}.")
    right = true_lane(job, question)
    until_s = question.script.until_s
    given = joined(tuple(each for each in given if each[0] <= until_s))
    if given == right or (given == _before(right, until_s) and until_s):
        return Graded(True, "Right: that is what the interpreter says.", question.why, None, (),
                      given, right)  # fmt: skip
    at = _first_difference(given, right)
    drawn, is_so = _value(given, at), _value(right, at)
    when = f"from {duration(at)} on" if at else "at the start"
    said = f"Up to there it is right; {when} you have “{drawn}”, and it is “{is_so}”."
    if not at:
        said = f"At the start you have “{drawn}”, and it is “{is_so}”."
    reason = why_so(job, question.script, question.thing, at)
    said = f"{said} {reason.words}".rstrip()
    return Graded(False, said, question.why, at, reason.lines, given, right)


def values_of(job: Job, thing: str) -> tuple[str, ...]:
    """The values that a thing can have, at rest first; empty of a level or of what is counted."""
    point = job.point.get(thing)
    if point is not None:
        return () if point.kind is PointKind.DIMMER else point.kind.values
    if thing in job.door:
        return ("lowered", "raised", "moving", "stopped")
    if thing in job.room:
        return ("empty", "peopled")
    return ()


def true_lane(job: Job, question: Predict) -> Lane:
    """What the thing is through time, as the interpreter plays it: its value as each moment ends.

    Raises: CannotPlay.
    """
    run = play(job, question.script).run
    lane: list[tuple[Fraction, str]] = [(Fraction(0), dict(run.start)[question.thing])]
    for step in run.steps:
        for subject, value in step.changes:
            if subject == question.thing:
                if lane[-1][0] == step.at_s:
                    lane.pop()
                lane.append((step.at_s, value))
    return joined(tuple(lane))


def right_text(lesson: Lesson, question: Question) -> str:
    """The right answer in words, for a key."""
    match question:
        case Predict():
            return lane_text(true_lane(lesson.job(question.job).job, question))
        case Word(_, keys):
            return keys[0]
        case Figure(_, _, told):
            return told
        case Choose(_, options, right):
            return f"{right + 1}: {options[right]}"


def _as_it_is_said(value: str, known: tuple[str, ...]) -> str:
    """A value as the interpreter says it: small letters, a level with a blank before its sign."""
    plain = value.strip(" .").lower().removeprefix("is ")
    if plain in known:
        return plain
    level = quantity(" ".join(plain.replace("%", " % ").split()))
    if isinstance(level, Quantity) and level.unit is Unit.LEVEL:
        return f"{number(level.value)} %" if level.value else "off"
    return plain


def _before(lane: Lane, at: Fraction) -> Lane:
    """A lane up to a moment. What comes at the very end of a lane has no length to be drawn."""
    return tuple(each for each in lane if each[0] < at)


def _value(lane: Lane, at: Fraction) -> str:
    return [value for since, value in lane if since <= at][-1]


def _first_difference(given: Lane, right: Lane) -> Fraction:
    moments = sorted({at for at, _ in (*given, *right)})
    return next(at for at in moments if _value(given, at) != _value(right, at))
