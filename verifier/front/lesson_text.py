"""Lessons for the terminal: list, text, questions, what came of answers and challenges."""

from __future__ import annotations

import re
import textwrap

from verifier.front.diagnostic_text import diagnostic_text
from verifier.front.figures import counted
from verifier.front.paint import Paint, Style
from verifier.front.promise_text import KINDS
from verifier.front.result_places import line_of
from verifier.front.run_text import run_text
from verifier.front.shown import shown
from verifier.front.timing_text import timing_text
from verifier.handover.promise import promised
from verifier.model import check_form
from verifier.model.words import duration
from verifier.source import Sources, Span
from verifier.teach.challenge import Hint, Judged
from verifier.teach.lanes import beside, label_of
from verifier.teach.lesson import (
    Asked,
    Block,
    Challenged,
    Choose,
    Figure,
    FormShown,
    Heading,
    Items,
    Lesson,
    Listing,
    Outline,
    Predict,
    Prose,
    Question,
    Word,
)
from verifier.teach.progress import LessonProgress, Progress
from verifier.teach.questions import Graded

_STARS = re.compile(r"\*\*(.+?)\*\*")


def list_text(outlines: tuple[Outline, ...], progress: Progress, paint: Paint, width: int) -> str:
    """The list of lessons: number, name, minutes, how far one has come."""
    lines = []
    for number, one in enumerate(outlines, 1):
        came = came_words(progress.of(one.name))
        optional = ", optional" if one.optional else ""
        head = f"{number:>3}  {one.title}"
        lines.append(f"{paint(shown(head), 'strong')}")
        about = f"{one.name}, {counted(one.minutes, 'minute')}{optional}{came and ': ' + came}"
        lines.extend(_wrapped(about, width, "     "))
    lines += [
        "",
        *_wrapped("`duskproof learn 1` shows the first one, `--worksheet` prints it.", width),
    ]
    return "\n".join(lines)


def came_words(progress: LessonProgress) -> str:
    """How far one has come in a lesson; empty if it was not begun."""
    right = sum(came == "right" for _, came in progress.answers)
    parts = ["read"] if progress.read else []
    if progress.answers:
        parts.append(f"{right} of {len(progress.answers)} answers right")
    if progress.challenge:
        parts.append(f"challenge {progress.challenge}")
    return ", ".join(parts)


def head_text(outline: Outline, paint: Paint, width: int) -> str:
    """What stands over a lesson."""
    lines = [paint(shown(outline.title), "strong")]
    lines.append(f"about {counted(outline.minutes, 'minute')}; afterwards you can:")
    for aim in outline.aims:
        lines.extend(_wrapped(_plain(aim), width, "  - "))
    return "\n".join(lines)


def block_text(lesson: Lesson, block: Block, paint: Paint, width: int) -> str:
    """A block of a lesson's text."""
    match block:
        case Heading(text):
            return paint(shown(text), "strong")
        case Prose(text):
            return "\n".join(_wrapped(_plain(text), width))
        case Items(items, numbered):
            lines: list[str] = []
            for number, item in enumerate(items, 1):
                lines.extend(_wrapped(_plain(item), width, f"  {number}. " if numbered else "  - "))
            return "\n".join(lines)
        case Listing(_, text):
            return "\n".join(f"    {shown(line)}".rstrip() for line in text.split("\n"))
        case FormShown():
            return _form_text(lesson, block, paint, width)
        case Asked(number):
            return question_text(lesson, number, paint, width)
        case Challenged():
            assert lesson.challenge is not None
            title = paint("Challenge", "strong")
            asked = "\n".join(_wrapped(_plain(lesson.challenge.ask), width))
            how = (
                f"`duskproof learn {lesson.outline.name} --take DIR` puts its files into a folder, "
            )
            how += "`--hand-in DIR` judges what you made of them, `--hint 1` to `3` helps."
            return f"{title}\n{asked}\n" + "\n".join(_wrapped(_plain(how), width))


def _form_text(lesson: Lesson, block: FormShown, paint: Paint, width: int) -> str:
    """A form with its plain words, and a run that keeps and one that breaks it."""
    job = lesson.job(block.job).job
    requirement, _, _ = check_form(block.form, job)
    assert requirement is not None, "a lesson's forms were read before"
    said = promised(job, requirement)
    lines = [f"    {paint(shown(block.form), 'strong')}"]
    lines.extend(_wrapped(said.said.sentence, width, "  "))
    for run in said.runs:
        style: Style = {"keeps": "good", "breaks": "bad"}.get(run.example.kind, "doubt")  # type: ignore[assignment]
        lines.append(f"  {paint(KINDS[run.example.kind], style)}")
        lines.extend(_wrapped(run.diagram.title, width, "  "))
        lines.extend(f"  {line}" for line in timing_text(run.diagram, paint, width - 2))
    return "\n".join(lines)


def question_text(lesson: Lesson, number: int, paint: Paint, width: int) -> str:
    """A question, and how it is answered."""
    question = lesson.questions[number - 1]
    title = f"Question {number}" + (": predict" if isinstance(question, Predict) else "")
    lines = [paint(title, "strong"), *_wrapped(_plain(question.ask), width)]
    match question:
        case Predict():
            lines.extend(f"    {shown(line)}" for line in question.told)
            label = label_of(lesson.job(question.job).job, question.thing)
            how = f"Answer with what “{label}” is at the start, then each change, as in: "
            lines.extend(_wrapped(f"{how}`off; 20 s on; 45 s off`.", width))
        case Choose(_, options):
            for place, option in enumerate(options, 1):
                lines.extend(_wrapped(_plain(option), width, f"  {place}  "))
        case Figure():
            lines.append("Answer with a figure and its unit.")
        case Word():
            lines.append("Answer with a word.")
    return "\n".join(lines)


def graded_text(
    lesson: Lesson, question: Question, graded: Graded, paint: Paint, width: int
) -> str:
    """What came of an answer."""
    lines = _wrapped(_plain(graded.words), width)
    lines[0] = paint(lines[0], "good" if graded.right else "bad")
    if isinstance(question, Predict):
        job = lesson.job(question.job)
        if not graded.right:
            diagram = beside(job.job, question, graded.given, graded.right_lane)
            lines.extend(f"  {line}" for line in timing_text(diagram, paint, width - 2))
            lines.extend(_acted(graded.lines, Sources(job.files), width))
    lines.extend(_wrapped(_plain(graded.why), width))
    return "\n".join(lines)


def judged_text(judged: Judged, paint: Paint, width: int) -> str:
    """What came of a challenge."""
    if judged.wrong:
        return "\n\n".join(
            diagnostic_text(problem, judged.sources, paint, width) for problem in judged.wrong[:10]
        )
    lines: list[str] = []
    for part in judged.parts:
        good = part.came == "kept"
        mark = ("+" if good else "x") if paint.plain_marks else ("✓" if good else "✗")
        lines.append(f"{paint(mark, 'good' if good else 'bad')} {shown(part.title)}")
        lines.extend(_wrapped(part.words, width, "    "))
    for moved in judged.moved:
        lines.extend(_wrapped(f"Changed, and had to stay: {moved}.", width))
    kept = sum(part.came == "kept" for part in judged.parts)
    if judged.passed:
        lines.append(paint("Passed: all that was asked for is kept.", "good"))
    elif judged.parts:
        lines.append(paint(f"Not yet: {kept} of {len(judged.parts)} kept.", "bad"))
    return "\n".join(lines)


def hint_text(hint: Hint, paint: Paint, width: int) -> str:
    """A hint; the third with the run."""
    lines = _wrapped(_plain(hint.words), width, f"Hint {hint.step}: ")
    part = hint.part
    if hint.step == 3 and part is not None and part.run is not None:
        if part.requirement is not None:
            told = run_text(part.run, part.requirement, part.job, part.sources, paint, width,
                            "here it fails")  # fmt: skip
            lines.extend(told)
        else:
            lines.extend(
                f"  {duration(step.at_s) if step.at_s else 'at the start'}: {shown(step.what)}; "
                + ", ".join(f"{subject} {value}" for subject, value in step.changes)
                for step in part.run.steps
            )
            lines.append("  here what was asked for is broken")
    return "\n".join(lines)


def _acted(spans: tuple[Span, ...], sources: Sources, width: int) -> list[str]:
    """The lines of rules that spans stand on."""
    found: list[str] = []
    for span in spans:
        file = sources.by_name.get(span.file)
        if file is not None:
            at, _ = file.line_and_column(span.start)
            found.extend(
                _wrapped(f"{line_of(span, sources)}: {file.line(at).strip()}", width, "  ")
            )
    return found


def _plain(text: str) -> str:
    """Text without its stars; back quotes stay, as they mark words of the language."""
    return _STARS.sub(r"\1", text)


def _wrapped(text: str, width: int, head: str = "") -> list[str]:
    blank = " " * len(head)
    return textwrap.wrap(
        shown(text), width, initial_indent=head, subsequent_indent=blank, break_on_hyphens=False
    ) or [head.rstrip()]
