"""``duskproof try``: scripts read from files, played on the interpreter, told as tables."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.explain.handled import Handled, handled_in
from verifier.explain.told import changes_told, pair, start_told
from verifier.front.diagnostic_text import diagnostic_text
from verifier.front.figures import counted, moment
from verifier.front.folder import read_file
from verifier.front.paint import Paint
from verifier.front.result_places import line_of
from verifier.front.run_text import Row, changes_text, table_text, when
from verifier.front.shown import shown
from verifier.model.job import Job
from verifier.simulate.run import Run, Step
from verifier.simulate.script import parse_script
from verifier.simulate.script_play import CannotPlay, Expected, Played, play
from verifier.source import Sources, Span

ENDING = ".run"
"""What the names of scripts end in."""

LARGEST_SCRIPT = 1024 * 1024
"""Bytes."""

MOST_TOLD = 20
"""Diagnostics of one script; a file of another kind would fill the screen."""

_LONGEST_ROUND = 4
"""Steps of a part that goes round and is told once."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What is said of all scripts, and the exit code: 0 kept, 1 broken, 2 a script is wrong."""

    text: str
    code: int


@dataclass(frozen=True, slots=True)
class _Page:
    """How it is shown: the job's files, colours, columns."""

    sources: Sources
    paint: Paint
    width: int

    def of(self, problem: Diagnostic) -> str:
        return diagnostic_text(problem, self.sources, self.paint, self.width)


def try_scripts(
    job: Job,
    sources: Sources,
    folder: str,
    script: str | None,
    *,
    every_order: bool,
    paint: Paint,
    width: int,
) -> Tried:
    """Plays one script, or all of the folder."""
    page = _Page(sources, paint, width)
    there = sorted(
        path for path in Path(folder).glob(f"*{ENDING}") if not path.name.startswith(".")
    )
    if script is not None:
        try:
            path = _named(script, folder)
        except (OSError, ValueError):
            problem = _error("no-such-script", "SCRIPT", "no file can have the name that is given",
                             "Check the name of the script.")  # fmt: skip
            return Tried(page.of(problem), 2)
        return _one(job, page, path, there, every_order)
    if not there:
        problem = _error(
            "no-scripts",
            folder,
            f"the folder has no script: no file whose name ends in {ENDING}",
            f"Write one (`duskproof try --help` shows how), or name it: "
            f"`duskproof try {folder} SCRIPT`.",
        )
        return Tried(page.of(problem), 2)
    tried = [_one(job, page, path, there, every_order) for path in there]
    return Tried("\n\n".join(each.text for each in tried), max(each.code for each in tried))


def _named(script: str, folder: str) -> Path:
    """The file that is meant: as it is written, else in the folder."""
    path = Path(script)
    inside = Path(folder) / script
    return inside if not path.exists() and inside.exists() else path


def _one(job: Job, page: _Page, path: Path, there: list[Path], every_order: bool) -> Tried:
    unfit = _unfit(path, there)
    if unfit is not None:
        return Tried(page.of(unfit), 2)
    file, problem = read_file(path, path.name)
    if file is not None:
        page = _Page(Sources((*page.sources.files, file)), page.paint, page.width)
    if problem is not None or file is None:
        assert problem is not None
        return Tried(page.of(problem), 2)
    script, problems = parse_script(file, job)
    if script is not None:
        try:
            return _told(job, play(job, script, every_order=every_order), file.name, page)
        except CannotPlay as cannot:
            problems = (cannot.diagnostic,)
    said = [page.of(each) for each in problems[:MOST_TOLD]]
    if len(problems) > MOST_TOLD:
        said.append(f"{counted(len(problems) - MOST_TOLD, 'more mistake')} in {shown(file.name)}.")
    return Tried("\n\n".join(said), 2)


def _unfit(path: Path, there: list[Path]) -> Diagnostic | None:
    if not path.exists():
        names = [other.name for other in there]
        near = get_close_matches(path.name, names, n=3, cutoff=0.6)
        if near:
            hint = f"Did you mean {' or '.join(near)}?"
        else:
            hint = f"The folder has {', '.join(names[:12]) if names else 'no script yet'}."
        return _error("no-such-script", str(path), f'there is no script "{path}"', hint)
    if not path.is_file():
        return _error("no-such-script", str(path), f'"{path}" is not a file with text',
                      f"Give a file whose name ends in {ENDING}.")  # fmt: skip
    if path.suffix == ".dusk":
        return _error("no-such-script", str(path), f'"{path}" is a part of the job, not a script',
                      f"Give a file whose name ends in {ENDING}.")  # fmt: skip
    if path.stat().st_size > LARGEST_SCRIPT:
        return _error("script-too-large", str(path), f'"{path}" has more than 1 MB',
                      "Check that it is the right file.")  # fmt: skip
    return None


def _error(code: str, place: str, message: str, hint: str) -> Diagnostic:
    return Diagnostic(code, Severity.ERROR, message, (Label(Span(place, 0, 0)),), hint)


# ---------------------------------------------------------------- what came out


def _told(job: Job, played: Played, name: str, page: _Page) -> Tried:
    start = tuple(each for each in played.run.start if each[1] != "idle")
    begins = ", ".join(words for _, words in start_told(start, clock=False))
    broken = sum(not expected.kept for expected in played.expected)
    count = len(played.expected)
    lines = [
        shown(name),
        *_wrapped(f"at the start: {shown(begins)}", page.width),
        *table_text(_rows(job, played, page.sources), page.paint, page.width),
        *(_expectation(expected, page.sources) for expected in played.expected),
    ]
    if played.differs is not None:
        ways = "; ".join(
            pair(subject, " or ".join(values)) for subject, values in played.differs.values
        )
        at = moment(played.differs.at_s, False)
        lines.extend(_wrapped(f"The order matters: at {at} {shown(ways)}.", page.width))
    for line, reason in played.impossible:
        said = f"`{line.words}` is not possible in every order: {reason}"
        place = line_of(line.span, page.sources)
        lines.extend(_wrapped(f"{shown(said)} ({shown(place)}).", page.width))
    if count:
        lines.append(f"{counted(count, 'expectation')}: {count - broken} kept, {broken} broken.")
    else:
        lines.append("Nothing is expected in this script.")
    return Tried("\n".join(lines), 1 if broken else 0)


def _expectation(expected: Expected, sources: Sources) -> str:
    mark = "kept" if expected.kept else "BROKEN"
    some = " in some order" if not expected.kept and expected.ever else ""
    at = moment(expected.line.at_s, False)
    place = line_of(expected.line.span, sources)
    return f"{mark:<7} {at}: {shown(expected.line.text)}{some}  ({shown(place)})"


def _rows(job: Job, played: Played, sources: Sources) -> tuple[Row, ...]:
    steps = played.run.steps
    handled = handled_in(job, played.run.start, steps)
    changes = changes_told(played.run.start, steps, clock=False)
    rows: list[Row] = []
    at = 0
    while at < len(steps):
        length, times = _round(steps, at)
        rows.extend(
            _row(played.run, steps[n], changes[n], handled[n], sources)
            for n in range(at, at + length)
        )
        at += length * times
        if times > 1:
            until = moment(steps[at - 1].at_s, False)
            what = "the same" if length == 1 else f"these {length}"
            rows.append((f"… {until}", f"{what} again, {counted(times - 1, 'time')}", "", ""))
    rows.append((when(played.run, played.run.fails_s, False), "the script ends", "", ""))
    return tuple(rows)


def _row(
    run: Run, step: Step, said: tuple[str, ...], handled: tuple[Handled, ...], sources: Sources
) -> Row:
    places = ", ".join(dict.fromkeys(line_of(span, sources) for span in step.because))
    changes = changes_text(said, handled)
    return when(run, step.at_s, False), shown(step.what), changes, shown(places)


def _round(steps: Sequence[Step], at: int) -> tuple[int, int]:
    """How many steps from here go round, and how often; (1, 1) where nothing does, or twice only."""

    def told(number: int) -> object:
        return steps[number].what, steps[number].changes, steps[number].because

    for length in range(1, _LONGEST_ROUND + 1):
        same = at + length
        while same < len(steps) and told(same) == told(same - length):
            same += 1
        times = (same - at) // length
        if times > 3:
            return length, times
    return 1, 1


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False)
