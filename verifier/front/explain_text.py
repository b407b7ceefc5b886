"""Failing cases as text: title, picture, the instants in words, causes, what would go well."""

from __future__ import annotations

import textwrap

from verifier.explain.explained import Explained
from verifier.explain.figures import listed, moment
from verifier.explain.story import Moment, Story
from verifier.front.paint import Paint
from verifier.front.reason import reason
from verifier.front.result_places import line_of
from verifier.front.shown import shown
from verifier.front.timing_text import timing_text
from verifier.source import Sources

_INDENT = "    "


def explained_text(each: Explained, sources: Sources, folder: str, paint: Paint, width: int) -> str:
    """All that is told of one requirement that fails."""
    requirement = each.requirement
    mark = "X" if paint.plain_marks else "✗"
    label = f'  "{shown(requirement.label)}"' if requirement.label else ""
    lines = [f"{paint(mark, 'bad')} {paint(shown(requirement.name), 'strong')}{label}"]
    if each.story is None:
        lines.extend(_wrapped(shown(reason(requirement, each.verdict)), width))
        return "\n".join(lines)
    lines.extend(_story(each.story, sources, paint, width))
    for blame in each.blames:
        words = f"This case goes well {blame.words} ({line_of(blame.span, sources)})."
        lines.extend(_item(shown(words), width))
    if each.contrast is not None:
        lines.append("")
        lines.append(f"{_INDENT}{paint('The nearest case that goes well', 'strong')}")
        lines.extend(_wrapped(shown(each.contrast.words), width))
        lines.extend(
            _INDENT + line
            for line in timing_text(each.contrast.diagram, paint, width - len(_INDENT))
        )
    if each.other is not None:
        lines.append("")
        lines.append(f"{_INDENT}{paint('Another case, of another kind', 'strong')}")
        lines.extend(_story(each.other, sources, paint, width))
    lines.append("")
    lines.extend(
        _item(f"To put it right: duskproof mend {folder} --only {requirement.name}", width)
    )
    return "\n".join(lines)


def _story(story: Story, sources: Sources, paint: Paint, width: int) -> list[str]:
    lines = _wrapped(shown(story.title), width)
    if story.run.clock is not None:
        from verifier.explain.clock_words import ClockTold

        lines.extend(_wrapped(ClockTold(story.run.clock).begins(), width))
    lines.append("")
    lines.extend(_INDENT + line for line in timing_text(story.diagram, paint, width - len(_INDENT)))
    lines.append("")
    lines.extend(
        _wrapped(shown(f"At the start: {', '.join(story.start) or 'all at rest'}."), width)
    )
    for each in story.moments:
        lines.extend(_moment(each, sources, width))
    lines.extend(_wrapped(story.ends, width))
    lines.append("")
    for cause in story.causes:
        because = f"; {cause.because}" if cause.because else ""
        lines.extend(_item(shown(f"({cause.letter}) {cause.at}: {cause.words}{because}"), width))
    if story.needs:
        lines.extend(_wrapped(story.needs, width))
    if story.anything:
        lines.extend(_wrapped(shown(f"Could be anything: {listed(story.anything)}."), width))
    return lines


def _moment(each: Moment, sources: Sources, width: int) -> list[str]:
    at = moment(each.at_s, each.just_after)
    at += f" ({each.clock})" if each.clock else ""
    lines = _item(shown(f"{each.number}. {at}: {each.what}"), width)
    if each.changes:
        lines.extend(_inner(shown(f"now {', '.join(each.changes)}"), width))
    for reaction in each.reactions:
        place = line_of(reaction.span, sources)
        lines.extend(_inner(shown(f"by {reaction.rule}, {place}: {reaction.words}"), width))
    return lines


def _wrapped(text: str, width: int) -> list[str]:
    return _fill(text, width, _INDENT, _INDENT)


def _item(text: str, width: int) -> list[str]:
    return _fill(text, width, _INDENT, _INDENT + "   ")


def _inner(text: str, width: int) -> list[str]:
    return _fill(text, width, _INDENT + "   ", _INDENT + "     ")


def _fill(text: str, width: int, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, max(width, 24), initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )
