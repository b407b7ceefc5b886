"""The canonical layout of a text that people wrote: the tree as `formatter` prints it, with the comments.

Only blanks and ends of lines change. Every other character comes back in the same order, but for
`1 times a day`, which is `once a day`: that is looked at each time before the text is given back.
So each printed line knows which stretch of the old text it is, and a comment finds its line again:

- one on a line of its own stays above the line that followed it, indented as that line is (before
  an `end`, `else`, `elsif` or `until` as what stands inside);
- one after a line stays after it; one inside of what becomes a single line goes above that line;
- one blank line stays where there were any, none at the beginning and end of a block.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from verifier.diagnostics import Diagnostic
from verifier.language.columns import in_columns
from verifier.language.formatter import format_tree
from verifier.language.parser import parse
from verifier.source import SourceFile

WIDTH = 100
"""Columns of a line; a longer one goes on in the next line where the language lets it."""

_STEP = "  "
_PART = re.compile(r'"[^"\n]*"|#[^\n]*|[^\s\ufeff"#]+|"')
_BLANK_LINE = re.compile(r"\n[^\S\n]*\n")
_CLOSES = re.compile(
    r"\s*(?:end (?:site|door|room|rule|if|repeat|require|standard|usage|typical)$|else$|elsif |until )"
)
_OPENS = re.compile(r"\s*(?:do|else|repeat|.* then)$")
_BREAK = re.compile(r'"[^"]*"|[()]|\b(?:and|or|implies) |: |, (?!(?:at most|waiting|oldest) )')
_BETWEEN = re.compile(r"\bbetween \S+ $")


@dataclass(frozen=True, slots=True)
class _Line:
    """A printed line and the stretch of the old text that it is."""

    text: str
    start: int
    end: int
    apart: bool
    """Whether a blank line stands before it, whatever the old text had."""
    goes_on: bool
    """Whether it continues the line before."""


@dataclass(frozen=True, slots=True)
class _Comment:
    text: str
    start: int
    alone: bool
    """Whether nothing else stands on its line before it."""


def format_text(file: SourceFile) -> tuple[str, tuple[Diagnostic, ...]]:
    r"""The text of a file in its canonical layout; a text with mistakes as it is, and the mistakes.

    >>> format_text(SourceFile("a.dusk", 'lamp  a   80W # over the door\n'))[0]
    'lamp a 80 W  # over the door\n'
    """
    tree, problems = parse(file)
    if problems:
        return file.text, problems
    text = _laid_out(file.text, format_tree(tree))
    again, more = parse(SourceFile(file.name, text))
    if more or again != tree:
        raise AssertionError("layout: the text would mean something else")
    return text, ()


def _laid_out(old: str, printed: str) -> str:
    places, comments = _parts(old)
    lines = _placed(_printed_lines(printed), old, places)
    above: list[list[_Comment]] = [[] for _ in range(len(lines) + 1)]
    after: dict[int, _Comment] = {}
    starts, ends = [line.start for line in lines], [line.end for line in lines]
    for comment in comments:
        number = bisect_left(starts, comment.start) - 1
        if comment.alone or number < 0:
            above[bisect_right(ends, comment.start)].append(comment)
        elif ends[number] <= comment.start:
            after[number] = comment
        else:
            above[number].append(comment)
    text = _joined(old, lines, above, after)
    if [c.text for c in _parts(text)[1]] != [c.text for c in comments]:
        raise AssertionError("layout: a comment would be lost or change its turn")
    return text


def _parts(text: str) -> tuple[list[int], list[_Comment]]:
    """Where each character stands that is neither blank nor in a comment; and the comments."""
    places: list[int] = []
    comments: list[_Comment] = []
    for found in _PART.finditer(text):
        start = found.start()
        if text[start] != "#":
            inside = range(start, found.end())
            if text[start] == '"':
                places.extend(place for place in inside if not _is_blank(text[place]))
            else:
                places.extend(inside)
            continue
        line = text.rfind("\n", 0, start) + 1
        alone = not _solid(text[line:start])
        comments.append(_Comment(found.group().rstrip(), start, alone))
    return places, comments


def _solid(text: str) -> str:
    """A text without its blanks."""
    return "".join(text.replace("\ufeff", "").split())


def _is_blank(character: str) -> bool:
    return character.isspace() or character == "\ufeff"


# ---------------------------------------------------------------- lines


def _printed_lines(printed: str) -> list[tuple[str, bool, bool]]:
    """Each printed line with whether it stands apart from, and continues, the one before."""
    lines: list[tuple[str, bool, bool]] = []
    apart = False
    for line in printed.split("\n"):
        if line:
            pieces = _broken(line)
            lines.append((pieces[0], apart, False))
            lines.extend((piece, False, True) for piece in pieces[1:])
        apart = not line
    return lines


def _broken(line: str) -> list[str]:
    """A line in pieces that are short enough, as far as that is possible."""
    indent = line[: len(line) - len(line.lstrip())]
    pieces: list[str] = []
    while len(line) > WIDTH:
        at = _break_of(line)
        if at is None:
            break
        pieces.append(line[:at].rstrip())
        line = f"{indent}{_STEP * 2}{line[at:]}"
    return [*pieces, line]


def _break_of(line: str) -> int | None:
    """Where to break: the last place that fits, of those in the fewest parentheses."""
    found: list[tuple[int, int]] = []
    depth = 0
    for mark in _BREAK.finditer(line):
        match mark.group():
            case "(":
                depth += 1
            case ")":
                depth -= 1
            case word if not word.startswith('"') and mark.end() <= WIDTH + 1:
                if not (word == "and " and _BETWEEN.search(line, 0, mark.start())):
                    found.append((-depth, mark.end()))
    return max(found)[1] if found else None


def _placed(
    printed: Sequence[tuple[str, bool, bool]], old: str, places: Sequence[int]
) -> list[_Line]:
    """The printed lines, each with the stretch of the old text that has its characters."""
    lines: list[_Line] = []
    at = 0
    solid = "".join(old[place] for place in places)
    for text, apart, goes_on in printed:
        first = at
        written = _solid(text)
        if not solid.startswith(written, at):
            same = next(
                (n for n, each in enumerate(written) if not solid.startswith(each, at + n)), 0
            )
            if written.startswith("once", same):
                written = f"{written[:same]}1times{written[same + 4 :]}"
            if not solid.startswith(written, at):
                raise AssertionError("layout: what is printed is not what was written")
        at += len(written)
        lines.append(_Line(text, places[first], places[at - 1] + 1, apart, goes_on))
    if at != len(places):
        raise AssertionError("layout: not all that was written is printed")
    return lines


# ---------------------------------------------------------------- comments and blank lines


def _joined(
    old: str,
    lines: Sequence[_Line],
    above: Sequence[Sequence[_Comment]],
    after: dict[int, _Comment],
) -> str:
    """The lines with their comments and blank lines, each in its column."""
    out: list[tuple[str, str]] = []
    end = 0
    for number, line in enumerate((*lines, None)):
        before = _begun(lines, number - 1)
        blanks: list[bool] = []
        for comment in above[number]:
            blanks.append(_is_apart(old, end, comment.start))
            end = max(end, comment.start + len(comment.text))
        if line is not None:
            blanks.append(_is_apart(old, end, line.start))
        _settle(blanks, before, line)
        indent = " " * _indent_above(before, line)
        for blank, comment in zip(blanks, above[number]):
            out.extend([("", "")] if blank else [])
            out.append(("", f"{indent}{comment.text}"))
        if line is None:
            break
        out.extend([("", "")] if blanks[-1] else [])
        trailing = after.get(number)
        out.append((line.text, "" if trailing is None else trailing.text))
        end = line.end if trailing is None else trailing.start + len(trailing.text)
    return "".join(f"{text}\n" for text in in_columns(out, WIDTH))


def _settle(blanks: list[bool], before: _Line | None, line: _Line | None) -> None:
    """Blank lines as they are to be before each comment and the line, from those that there were."""
    if not blanks:
        return
    if before is None or _OPENS.match(before.text) or _is_deeper(before, line):
        blanks[0] = False
    if line is None:
        return
    if _CLOSES.match(line.text) or line.text.strip() == "do" or line.goes_on:
        blanks[-1] = False
    elif line.apart and before is not None and not any(blanks):
        blanks[0] = True


def _is_deeper(before: _Line, line: _Line | None) -> bool:
    return line is not None and _indent(line.text) > _indent(before.text)


def _begun(lines: Sequence[_Line], number: int) -> _Line | None:
    """The line of that number, or the one that it continues; None before the first."""
    while number >= 0 and lines[number].goes_on:
        number -= 1
    return lines[number] if number >= 0 else None


def _indent_above(before: _Line | None, line: _Line | None) -> int:
    """How far a comment between two lines is indented: as what stands inside, at the end of a block."""
    if line is None:
        return 0
    own = _indent(line.text)
    if before is None or not _CLOSES.match(line.text):
        return own
    inside = _indent(before.text)
    return inside + len(_STEP) if _OPENS.match(before.text) or inside == own else inside


def _indent(text: str) -> int:
    return len(text) - len(text.lstrip())


def _is_apart(old: str, start: int, end: int) -> bool:
    return _BLANK_LINE.search(old, start, end) is not None
