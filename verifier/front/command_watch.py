"""`duskproof watch`: a job that is judged anew whenever one of its files is saved."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import click

from verifier.explain.figures import counted
from verifier.front.console import (
    FOLDER,
    Duration,
    say,
    tell,
    terminal_width,
    years_from_now,
)
from verifier.front.progress import working
from verifier.front.shown import shown
from verifier.front.watched import (
    CutShort,
    Look,
    cut_short_by_change,
    look_at,
    wait_for_change,
)
from verifier.pipeline import Question, Result
from verifier.source import Sources
from verifier.workbench import Workbench

NextLook = Callable[[Path, Look | None], Look | None]
"""How the folder is once it is another than that."""


@click.command("watch")
@FOLDER
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one requirement.",
)
@click.option("--workers", type=click.IntRange(1, 64), help="Requirements judged side by side.")
def command(folder: str, time_limit: Fraction, workers: int | None) -> int:
    """Judge a job again whenever one of its files is saved; Ctrl-C ends it.

    An edit proves only what it touches, and tells only what it has changed: verdicts that are
    others than before, and new findings. What is already on the screen stays there. A save in the
    middle of a proof drops that proof and begins with the new text.

    \b
    Example:
      duskproof watch specs/boathouse

    Exit codes: 0 ended by Ctrl-C, 2 the folder cannot be read at the start.
    """
    from verifier.front.folder import read_folder
    from verifier.front.keeping import keeping

    first = read_folder(folder)
    if not Path(folder).is_dir():
        nothing = Result(first.name, first.sources, None, (), (), first.diagnostics)
        return tell((nothing,), "text", False)
    question = Question(
        time_limit_s=time_limit,
        workers=workers or min(os.cpu_count() or 1, 8),
        years=years_from_now(),
    )
    with Workbench(first.name, question, keeping()) as bench:
        try:
            watch(folder, bench)
        except KeyboardInterrupt:
            say("\nNo longer watched.")
    return 0


def watch(folder: str, bench: Workbench, next_look: NextLook = wait_for_change) -> None:
    """Judges the folder now and after each change, until KeyboardInterrupt."""
    from verifier.front.folder import read_folder
    from verifier.front.paint import paint_for
    from verifier.front.watch_text import changed_words, edit_text, first_text

    path, paint = Path(folder), paint_for(sys.stdout)
    seen = look_at(path)
    say(f"Watching {shown(folder)}: {counted(len(seen or ()), 'file')}. Ctrl-C ends it.\n")
    read: Result | None = None
    judged: Result | None = None
    while True:
        reading = read_folder(folder)
        result = Result(reading.name, reading.sources, None, (), (), reading.diagnostics)
        if read is not None:
            say(f"{time.strftime('%H:%M:%S')}  {changed_words(read, result)}\n")
        same = read is not None and _said_of(read) == _said_of(result)
        if not same and not reading.diagnostics:
            found = _judged(path, seen, bench, reading.sources)
            if found is None:
                say("Changed meanwhile: beginning again with the new text.\n")
                read, seen = result, next_look(path, seen)
                continue
            result = found
        if not same:
            width = terminal_width()
            told = judged is None or result.rejected
            say(
                f"{first_text(result, paint, width)}\n"
                if told or judged is None
                else f"{edit_text(judged, result, paint, width)}\n"
            )
            judged = judged if result.rejected else result
        read, seen = result, next_look(path, seen)


def _said_of(result: Result) -> tuple[Sources, bool]:
    """What tells whether there is anything to do: the texts, and whether they could be read."""
    return result.sources, not result.sources.files


def _judged(path: Path, seen: Look | None, bench: Workbench, sources: Sources) -> Result | None:
    """The verdicts on the texts; None if the folder changed meanwhile. Raises: KeyboardInterrupt."""
    kept = bench.sources.by_name
    bench.put(file for file in sources.files if kept.get(file.name) != file)
    for name in kept.keys() - sources.by_name.keys():
        bench.remove(name)
    try:
        with working(sys.stderr) as told, cut_short_by_change(path, seen) as was_cut:
            there = 0

            def heard(*_: object) -> None:
                nonlocal there
                there += 1
                told(f"{counted(there, 'verdict')} so far …")

            result = bench.judge(on_verdict=heard)
    except CutShort:
        return None
    if was_cut():
        return None
    if result.interrupted:
        raise KeyboardInterrupt
    return result
