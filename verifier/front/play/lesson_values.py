"""A lesson as a page shows it, as JSON values: nothing of what a challenge is graded by is in it."""

from __future__ import annotations

from fractions import Fraction
from pathlib import PurePosixPath
from typing import assert_never

from verifier.diagnostics import Diagnostic
from verifier.front.explain_json import diagram_values
from verifier.front.play.values import Object, Places
from verifier.front.promise_text import KINDS
from verifier.handover.promise import promised
from verifier.model import check_form
from verifier.source import SourceFile, Sources
from verifier.teach.lanes import given_lanes, label_of
from verifier.teach.lesson import (
    Asked,
    Block,
    Challenged,
    Choose,
    Figure,
    FormShown,
    Heading,
    Items,
    Lane,
    Lesson,
    LessonJob,
    Listing,
    Predict,
    Prose,
    Question,
    Word,
)
from verifier.teach.questions import Graded, true_lane, values_of


def lesson_values(lesson: Lesson) -> Object:
    """A whole lesson; ``files`` is the job that a learner begins with."""
    outline, challenge = lesson.outline, lesson.challenge
    return {
        "kind": "lesson",
        "name": outline.name,
        "title": outline.title,
        "minutes": outline.minutes,
        "aims": list(outline.aims),
        "optional": outline.optional,
        "files": {file.name: file.text for file in begun_with(lesson)},
        "blocks": [_block(lesson, block) for block in lesson.blocks],
        "questions": [_question(lesson, k, q) for k, q in enumerate(lesson.questions, 1)],
        "challenge": None if challenge is None else {"ask": challenge.ask},
    }


def begun_with(lesson: Lesson) -> tuple[SourceFile, ...]:
    """The files that a learner begins with: the challenge's, or the lesson's own."""
    where = "" if lesson.challenge is None else lesson.challenge.job
    found = next((each for each in lesson.jobs if each.folder == where), None)
    return () if found is None else _files(found)


def _files(job: LessonJob) -> tuple[SourceFile, ...]:
    """The files of a job by their own names."""
    return tuple(SourceFile(_own_name(file.name), file.text) for file in job.files)


def _own_name(path: str) -> str:
    return PurePosixPath(path).name


def _block(lesson: Lesson, block: Block) -> Object:
    match block:
        case Heading(text):
            return {"kind": "heading", "text": text}
        case Prose(text):
            return {"kind": "prose", "text": text}
        case Items(items, numbered):
            return {"kind": "items", "items": list(items), "numbered": numbered}
        case Listing(kind, text):
            return {"kind": "listing", "of": kind, "text": text}
        case FormShown():
            return _form(lesson, block)
        case Asked(number):
            return {"kind": "question", "number": number}
        case Challenged():
            return {"kind": "challenge"}
        case _:
            assert_never(block)


def _form(lesson: Lesson, block: FormShown) -> Object:
    """A form with its plain words, and a run that keeps and one that breaks it."""
    job = lesson.job(block.job).job
    requirement, _, _ = check_form(block.form, job)
    assert requirement is not None, "a lesson's forms were read before"
    said = promised(job, requirement)
    return {
        "kind": "form",
        "form": block.form,
        "plain": said.said.sentence,
        "runs": [
            {
                "of": run.example.kind,
                "caption": f"{KINDS[run.example.kind]} {run.diagram.title}",
                "diagram": diagram_values(run.diagram),
            }
            for run in said.runs
        ],
    }


def _question(lesson: Lesson, number: int, question: Question) -> Object:
    common: Object = {"number": number, "ask": question.ask}
    match question:
        case Predict():
            job = lesson.job(question.job).job
            return common | {
                "kind": "predict",
                "thing": question.thing,
                "label": label_of(job, question.thing),
                "told": list(question.told),
                "values": list(_values(lesson, question)),
                "until_s": _seconds(question.script.until_s),
                "given": [
                    {"name": each.name, "label": each.label, "lane": lane_values(each.lane)}
                    for each in given_lanes(job, question)
                ],
            }
        case Word():
            return common | {"kind": "word"}
        case Figure():
            return common | {"kind": "figure"}
        case Choose(_, options):
            return common | {"kind": "choose", "options": list(options)}
        case _:
            assert_never(question)


def _values(lesson: Lesson, question: Predict) -> tuple[str, ...]:
    """What a lane can be drawn with; of levels and the like those that come about, in order."""
    job = lesson.job(question.job).job
    known = values_of(job, question.thing)
    if known:
        return known
    return tuple(sorted({value for _, value in true_lane(job, question)}, key=_by_size))


def _by_size(value: str) -> tuple[Fraction, str]:
    figure = value.removesuffix("%").strip()
    return (Fraction(figure) if figure.replace(".", "", 1).isdecimal() else Fraction(0), value)


def graded_values(lesson: Lesson, number: int, graded: Graded) -> Object:
    """What came of an answer; ``lines`` are places in the files that a learner begins with."""
    places = Places(Sources(begun_with(lesson)))
    question = lesson.questions[number - 1]
    where = "" if lesson.challenge is None else lesson.challenge.job
    lines = graded.lines if question.job == where else ()
    return {
        "kind": "graded",
        "lesson": lesson.outline.name,
        "question": number,
        "right": graded.right,
        "words": graded.words,
        "why": graded.why,
        "differs_s": None if graded.differs_s is None else _seconds(graded.differs_s),
        "right_lane": lane_values(graded.right_lane),
        "lines": [places.of(type(s)(_own_name(s.file), s.start, s.end)) for s in lines],
    }


def lane_values(lane: Lane) -> list[Object]:
    """A lane as what is so from when on."""
    return [{"from_s": _seconds(at), "value": value} for at, value in lane]


def wrong_values(finding: Diagnostic, places: Places) -> Object:
    """Something that is wrong with what was handed in."""
    span = finding.labels[0].span
    file = places.sources.by_name.get(span.file)
    return {
        "message": finding.message,
        "hint": finding.hint,
        "file": "" if file is None else span.file,
        "line": 0 if file is None else file.line_and_column(span.start)[0],
    }


def _seconds(figure: Fraction) -> int | float:
    return int(figure) if figure.denominator == 1 else round(float(figure), 6)
