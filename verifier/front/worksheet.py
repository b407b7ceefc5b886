"""A lesson as a paper to print: text, questions with room to draw and write, a key for the teacher."""

from __future__ import annotations

import re
from fractions import Fraction

from verifier.front.page import cautions, text
from verifier.front.promise_text import KINDS
from verifier.front.shown import columns
from verifier.front.timing_svg import timing_svg
from verifier.handover.promise import promised
from verifier.model import check_form
from verifier.model.job import Job
from verifier.model.words import duration
from verifier.simulate.script import Happens
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
    Predict,
    Prose,
    Word,
)
from verifier.teach.questions import right_text, true_lane, values_of

_MARKS = re.compile(r"`([^`]+)`|\*\*(.+?)\*\*")
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 21600, 43200, 86400)
_LEFT, _WIDTH, _LANE, _TOP = 150, 640, 44, 24
"""Units of the picture: room for names, all of it, a lane with what is between, above the first."""


def worksheet_title(lesson: Lesson, *, key: bool) -> str:
    """The title of the paper."""
    return f"{lesson.outline.title}{' (key)' if key else ''}"


def worksheet_body(lesson: Lesson, *, key: bool) -> str:
    """The body of the paper; with ``key`` the right answers and the solution are in it."""
    outline = lesson.outline
    aims = "".join(f"<li>{inline(aim)}</li>" for aim in outline.aims)
    for_whom = "Key for the teacher." if key else "Name ______________________ Date ____________"
    parts = [
        f"<h1>{text(worksheet_title(lesson, key=key))}</h1>",
        f'<p class="small">{text(for_whom)} About {outline.minutes} minutes.</p>',
        f"<p>Afterwards you can:</p><ul>{aims}</ul>",
        *(_block(lesson, block, key) for block in lesson.blocks),
        _rules(lesson),
        cautions(),
    ]
    return "\n".join(parts)


def inline(value: str) -> str:
    """A text of a lesson as HTML: back quotes are code, stars are strong."""
    found, at = [], 0
    for mark in _MARKS.finditer(value):
        found.append(text(value[at : mark.start()]))
        tag, inner = ("code", mark[1]) if mark[1] is not None else ("strong", mark[2])
        found.append(f"<{tag}>{text(inner)}</{tag}>")
        at = mark.end()
    return "".join(found) + text(value[at:])


def _lines(value: str) -> str:
    return "\n".join(text(line) for line in value.split("\n"))


def _block(lesson: Lesson, block: Block, key: bool) -> str:
    match block:
        case Heading(title):
            return f"<h2>{inline(title)}</h2>"
        case Prose(words):
            return f"<p>{inline(words)}</p>"
        case Items(items, numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>{''.join(f'<li>{inline(item)}</li>' for item in items)}</{tag}>"
        case Listing(_, shown):
            return f"<pre>{_lines(shown)}</pre>"
        case FormShown():
            return _form(lesson, block)
        case Asked(number):
            return _question(lesson, number, key)
        case Challenged():
            return _challenge(lesson, key)


def _form(lesson: Lesson, block: FormShown) -> str:
    job = lesson.job(block.job).job
    requirement, _, _ = check_form(block.form, job)
    assert requirement is not None, "a lesson's forms were read before"
    said = promised(job, requirement)
    parts = [f"<pre>{_lines(block.form)}</pre><p>{text(said.said.sentence)}</p>"]
    for run in said.runs:
        words = f"{KINDS[run.example.kind]} {run.diagram.title}"
        parts.append(
            f'<figure><div class="scroll" tabindex="0" role="region" aria-label="'
            f'{text(block.form)}: {text(words)}">'
            f"{timing_svg(run.diagram)}</div><figcaption>{text(words)}</figcaption></figure>"
        )
    return "\n".join(parts)


def _question(lesson: Lesson, number: int, key: bool) -> str:
    question = lesson.questions[number - 1]
    parts = [f"<article><h3>Question {number}</h3><p>{inline(question.ask)}</p>"]
    match question:
        case Predict():
            happens = "".join(f"<li><code>{text(line)}</code></li>" for line in question.told)
            parts.append(f"<ul>{happens}</ul>{_lane_picture(lesson, number, question, key)}")
            if _marks(
                question, {lane.name for lane in given_lanes(_job(lesson, question), question)}
            ):
                parts.append(
                    '<p class="small">▼ something happens that has no lane of its own.</p>'
                )
        case Choose(_, options):
            boxes = "".join(
                f"<li>{'☒' if key and place == question.right else '☐'} {inline(option)}</li>"
                for place, option in enumerate(options)
            )
            parts.append(f"<ul>{boxes}</ul>")
        case Word() | Figure():
            answer = right_text(lesson, question) if key else "_" * 30
            parts.append(f"<p>Answer: {inline(answer)}</p>")
    if key:
        parts.append(
            f'<p class="good"><strong>Key:</strong> {inline(right_text(lesson, question))}. '
            f"{inline(question.why)}</p>"
        )
    parts.append("</article>")
    return "\n".join(parts)


def _challenge(lesson: Lesson, key: bool) -> str:
    challenge = lesson.challenge
    assert challenge is not None
    parts = [f"<article><h3>Challenge</h3><p>{inline(challenge.ask)}</p>"]
    if challenge.job:
        for file in lesson.job(challenge.job).files:
            parts.append(f"<p>The job to start from:</p><pre>{_lines(file.text.rstrip())}</pre>")
    if key:
        solution = challenge.hidden.solution.rstrip()
        parts.append(f"<p><strong>Key:</strong> this passes.</p><pre>{_lines(solution)}</pre>")
    else:
        command = f"duskproof learn {lesson.outline.name}"
        parts.append(
            f"<p><code>{text(command)} --take DIR</code> puts the files into a folder, "
            f"<code>{text(command)} --hand-in DIR</code> judges what you made of them.</p>"
        )
    parts.append("</article>")
    return "\n".join(parts)


def _rules(lesson: Lesson) -> str:
    """The files of the lesson's own job, where its text does not show them."""
    own = next((job for job in lesson.jobs if not job.folder), None)
    files = () if own is None else own.files
    shown = {block.text for block in lesson.blocks if isinstance(block, Listing)}
    parts = [
        f"<h3>{text(file.name)}</h3><pre>{_lines(file.text.rstrip())}</pre>"
        for file in files
        if file.text.rstrip() not in shown
    ]
    return f"<section><h2>The rules</h2>{''.join(parts)}</section>" if parts else ""


# ---------------------------------------------------------------- the lane that is drawn by hand


def _job(lesson: Lesson, question: Predict) -> Job:
    return lesson.job(question.job).job


def _lane_picture(lesson: Lesson, number: int, question: Predict, key: bool) -> str:
    job = _job(lesson, question)
    given = given_lanes(job, question)
    until = question.script.until_s
    right = true_lane(job, question)
    asked = label_of(job, question.thing)
    height = _TOP + _LANE * len(given) + 74 + 34
    words = f"Question {number}: {'the key' if key else 'room to draw'}, {asked}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" width="{_WIDTH}" '
        f'height="{height}" role="img" aria-label="{text(words)}" font-family="sans-serif" '
        f'font-size="12"><title>{text(words)}</title>',
        f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
    ]
    bottom = _TOP + _LANE * len(given) + 74
    step = next((s for s in _STEPS_S if until / s <= 13), _STEPS_S[-1])
    labelled = 1 if until / step <= 7 else 2
    for tick in range(int(until / step) + 1):
        x = _x(Fraction(tick * step), until)
        parts.append(f'<path d="M{x} {_TOP - 8} V{bottom}" stroke="#b5b5b5" stroke-width="0.7"/>')
        if tick % labelled == 0:
            said = duration(Fraction(tick * step)) if tick else "0"
            parts.append(
                f'<text x="{x}" y="{bottom + 16}" text-anchor="middle">{text(said)}</text>'
            )
    parts.extend(_marks(question, {lane.name for lane in given}))
    for place, lane in enumerate(given):
        top = _TOP + _LANE * place
        low = values_of(job, lane.name)[:1] or ("idle",)
        parts.append(_name(lane.label, top + 20))
        parts.append(_drawn(lane.lane, low[0], until, top, 28, "#1f5f8b"))
    top = _TOP + _LANE * len(given) + 8
    values = values_of(job, question.thing) or tuple(dict.fromkeys(v for _, v in right))
    parts.append(
        f'<rect x="{_LEFT}" y="{top}" width="{_WIDTH - _LEFT - 20}" height="54" fill="none" '
        'stroke="#1b1b1b" stroke-width="1.2"/>'
    )
    parts.append(_name(asked, top + 30, bold=True))
    parts.append(f'<text x="{_LEFT - 6}" y="{top + 12}" text-anchor="end" font-size="10">'
                 f"{text(values[-1])}</text>")  # fmt: skip
    parts.append(f'<text x="{_LEFT - 6}" y="{top + 52}" text-anchor="end" font-size="10">'
                 f"{text(values[0])}</text>")  # fmt: skip
    if key:
        parts.append(_drawn(right, values[0], until, top + 8, 40, "#8a5a00"))
    parts.append("</svg>")
    named = text(words)
    return (
        f'<figure><div class="scroll" tabindex="0" role="region" aria-label="{named}">'
        f"{''.join(parts)}</div></figure>"
    )


def _marks(question: Predict, drawn: set[str]) -> list[str]:
    """A mark above the lanes for each happening that no lane shows: a press, nightfall, a fault."""
    until = question.script.until_s
    return [
        f'<path d="M{x - 4} 2 h8 l-4 7 z" fill="#1b1b1b"><title>{text(line.words)}</title></path>'
        for line in question.script.lines
        if isinstance(line, Happens) and not drawn & set(_becomes(line.words))
        for x in (_x(line.at_s, until),)
    ]


def _becomes(words: str) -> tuple[str, ...]:
    """The words of a happening that is a change of something; empty of one that is none."""
    plain = words.split(",")[0] == words
    return tuple(words.split()) if plain and "wire" not in words else ()


def _x(at: Fraction, until: Fraction) -> float:
    room = _WIDTH - _LEFT - 20
    return round(_LEFT + float(at / until) * room if until else _LEFT, 1)


def _name(label: str, y: int, *, bold: bool = False) -> str:
    cut = label if columns(label) <= 19 else label[:18] + "…"
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="4" y="{y}"{weight} font-size="11">{text(cut)}</text>'


def _drawn(lane: Lane, low: str, until: Fraction, top: int, height: int, colour: str) -> str:
    """A lane as a line, its values written above each stretch that has room."""
    path, words = "", []
    for place, (at, value) in enumerate(lane):
        if at > until:
            break
        end = lane[place + 1][0] if place + 1 < len(lane) else until
        left, right = _x(at, until), _x(min(end, until), until)
        y = top + height if value == low else top + 6
        path += f"{'M' if not path else 'V'}{left if not path else y}"
        path += f" {y} H{right}" if place == 0 else f" H{right}"
        if right - left > columns(value) * 6.2 + 6:
            words.append(f'<text x="{left + 4}" y="{y - 3}" font-size="10">{text(value)}</text>')
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="2"/>{"".join(words)}'
