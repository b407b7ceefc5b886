"""What a page is told of lessons, as JSON values.

The files of a lesson's job, its questions without their answers (with the files of their own job,
if it is another one), the challenge without what it is graded by. A place is what the page counts:
who asks says how.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, assert_never

from verifier.explain.plain import read_back
from verifier.front.explain_json import diagram_values
from verifier.handover.promise import promised
from verifier.model import check_form
from verifier.model.job import Job
from verifier.model.words import number
from verifier.source import Span
from verifier.teach.challenge import Hint, Judged
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
    Listing,
    Outline,
    Predict,
    Prose,
    Question,
    Word,
)
from verifier.teach.questions import Graded, true_lane, values_of

Object = dict[str, Any]
Place = Callable[[Span], Object]


def lessons_values(outlines: tuple[Outline, ...]) -> Object:
    """The list of lessons."""
    return {"kind": "lessons", "lessons": [outline_values(outline) for outline in outlines]}


def outline_values(outline: Outline) -> Object:
    """A lesson in the list."""
    return {
        "name": outline.name,
        "title": outline.title,
        "minutes": outline.minutes,
        "aims": list(outline.aims),
        "optional": outline.optional,
        "questions": outline.questions,
    }


def lesson_values(lesson: Lesson) -> Object:
    """A lesson, whole, without its answers."""
    challenge = lesson.challenge
    return {
        "kind": "lesson",
        **outline_values(lesson.outline),
        "files": _files(lesson, ""),
        "blocks": [_block(lesson, block) for block in lesson.blocks],
        "questions": [
            _question(lesson, question, k) for k, question in enumerate(lesson.questions, 1)
        ],
        "challenge": None
        if challenge is None
        else {"ask": challenge.ask, "files": _files(lesson, challenge.job)},
    }


def graded_values(lesson: str, number_of: str, graded: Graded, place: Place) -> Object:
    """What came of an answer."""
    return {
        "kind": "graded",
        "lesson": lesson,
        "question": number_of,
        "right": graded.right,
        "words": graded.words,
        "why": graded.why,
        "differs_s": None if graded.differs_s is None else number(graded.differs_s),
        "lines": [place(span) for span in graded.lines],
        "right_lane": _lane(graded.right_lane),
    }


def not_understood_values(lesson: str, number_of: str, words: str) -> Object:
    """An answer that is neither right nor wrong."""
    return {
        "kind": "graded",
        "lesson": lesson,
        "question": number_of,
        "right": None,
        "words": words,
    }


def challenge_values(lesson: str, judged: Judged) -> Object:
    """What came of a challenge, part by part."""
    wrong = []
    for each in judged.wrong:
        span = each.labels[0].span
        file = judged.sources.by_name.get(span.file)
        line = 0 if file is None else file.line_and_column(span.start)[0]
        wrong.append({"file": span.file, "line": line, "message": each.message, "hint": each.hint})
    return {
        "kind": "graded",
        "lesson": lesson,
        "question": None,
        "passed": judged.passed,
        "parts": [
            {"name": part.name, "title": part.title, "came": part.came, "words": part.words}
            for part in judged.parts
        ],
        "moved": list(judged.moved),
        "wrong": wrong,
    }


def hint_values(lesson: str, hint: Hint) -> Object:
    """A hint; the third one with its run drawn."""
    from verifier.explain.story import story_of

    part, diagram = hint.part, None
    if hint.step == 3 and part is not None and part.run is not None and part.job is not None:
        wanted = part.requirement or part.hidden
        story = None if wanted is None else story_of(part.job, wanted, part.run)
        diagram = None if story is None else diagram_values(story.diagram)
    return {
        "kind": "hint",
        "lesson": lesson,
        "step": hint.step,
        "words": hint.words,
        "story": None if diagram is None else {"diagram": diagram},
    }


def _files(lesson: Lesson, folder: str) -> dict[str, str]:
    if all(each.folder != folder for each in lesson.jobs):
        return {}
    return {file.name.rpartition("/")[2]: file.text for file in lesson.job(folder).files}


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
        case Asked(number_of):
            return {"kind": "question", "number": number_of}
        case Challenged():
            return {"kind": "challenge"}
        case _:
            assert_never(block)


def _form(lesson: Lesson, block: FormShown) -> Object:
    """A form read back, with a run that keeps it and one that breaks it."""
    job = lesson.job(block.job).job
    requirement, _, _ = check_form(block.form, job)
    assert requirement is not None, "a lesson's forms were read before"
    said = promised(job, requirement)
    return {
        "kind": "form",
        "form": block.form,
        "plain": read_back(requirement, job).sentence,
        "runs": [
            {"caption": run.diagram.title, "diagram": diagram_values(run.diagram)}
            for run in said.runs
        ],
    }


def _question(lesson: Lesson, question: Question, number_of: int) -> Object:
    values: Object = {"number": number_of, "ask": question.ask}
    if question.job:
        values["files"] = _files(lesson, question.job)
    match question:
        case Predict():
            job = lesson.job(question.job).job
            return {
                **values,
                "kind": "predict",
                "thing": question.thing,
                "label": label_of(job, question.thing),
                "values": _values(job, question),
                "first": true_lane(job, question)[0][1],
                "told": list(question.told),
                "until_s": number(question.script.until_s),
                "given": [
                    {"name": g.name, "label": g.label, "lane": _lane(g.lane)}
                    for g in given_lanes(job, question)
                ],
            }
        case Word():
            return {**values, "kind": "word"}
        case Figure():
            return {**values, "kind": "figure"}
        case Choose():
            return {**values, "kind": "choose", "options": list(question.options)}
        case _:
            assert_never(question)


def _values(job: Job, question: Predict) -> list[str]:
    """What a lane can be drawn with: of levels and the like, those that come about."""
    known = values_of(job, question.thing)
    return list(known or dict.fromkeys(sorted(value for _, value in true_lane(job, question))))


def _lane(lane: Lane) -> list[Object]:
    return [{"from_s": number(at), "value": value} for at, value in lane]
