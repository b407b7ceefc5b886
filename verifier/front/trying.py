"""``duskproof try``: scripts read from files, played on the interpreter, told as tables."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.diagnostic_text import diagnostic_text
from verifier.front.figures import counted, moment
from verifier.front.folder import read_file
from verifier.front.paint import Paint
from verifier.front.result_places import line_of
from verifier.front.run_text import pair, table_text
from verifier.front.shown import shown
from verifier.model.job import Condition, Job, Possible
from verifier.simulate.script import CannotPlay, ConditionOf, Played, parse_script, play
from verifier.source import SourceFile, Sources, Span

ENDING = ".run"
"""What the names of scripts end in."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What is said of all scripts, and the exit code: 0 kept, 1 broken, 2 a script is wrong."""

    text: str
    code: int


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
    paths = [Path(script)] if script is not None else sorted(Path(folder).glob(f"*{ENDING}"))
    if not paths:
        problem = Diagnostic(
            "no-scripts",
            Severity.ERROR,
            f"the folder has no script: no file whose name ends in {ENDING}",
            (Label(Span(folder, 0, 0)),),
            f"Write one (`duskproof try --help` shows how), or name it: "
            f"`duskproof try {folder} SCRIPT`.",
        )
        return Tried(diagnostic_text(problem, sources, paint, width), 2)
    said: list[str] = []
    code = 0
    for path in paths:
        text, worst = _one(job, sources, path, every_order, paint, width)
        said.append(text)
        code = max(code, worst)
    return Tried("\n\n".join(said), code)


def _one(
    job: Job, sources: Sources, path: Path, every_order: bool, paint: Paint, width: int
) -> tuple[str, int]:
    file, problem = read_file(path, path.name)
    if file is None or problem is not None:
        assert problem is not None
        files = sources.files if file is None else (*sources.files, file)
        return diagnostic_text(problem, Sources(files), paint, width), 2
    everything = Sources((*sources.files, file))
    script, problems = parse_script(file, job, _condition_reader(job))
    if script is not None:
        try:
            return _told(play(job, script, every_order=every_order), file, everything, paint, width)
        except CannotPlay as cannot:
            problems = (cannot.args[0],)
    return "\n\n".join(diagnostic_text(p, everything, paint, width) for p in problems), 2


def _condition_reader(job: Job) -> ConditionOf:
    from verifier.model import check_form

    def read(text: str) -> tuple[Condition | None, tuple[Diagnostic, ...]]:
        requirement, problems, _ = check_form(f"possible: {text}", job)
        if requirement is None or not isinstance(requirement.form, Possible):
            return None, problems
        return requirement.form.condition, problems

    return read


def _told(
    played: Played, file: SourceFile, sources: Sources, paint: Paint, width: int
) -> tuple[str, int]:
    rows = [
        (
            moment(step.at_s, False),
            shown(step.what),
            shown(", ".join(pair(subject, value) for subject, value in step.changes)) or "nothing",
            ", ".join(dict.fromkeys(line_of(span, sources) for span in step.because)),
        )
        for step in played.run.steps
    ]
    rows.append((moment(played.run.fails_s, False), "the script ends", "", ""))
    begins = ", ".join(pair(s, value) for s, value in played.run.start if value != "idle")
    lines = [
        shown(file.name),
        *textwrap.wrap(f"at the start: {shown(begins)}", width, break_on_hyphens=False),
        *table_text(rows, paint, width),
    ]
    broken = 0
    for expected in played.expected:
        mark = "kept" if expected.kept else "BROKEN"
        broken += not expected.kept
        place = line_of(expected.line.span, sources)
        at = moment(expected.line.at_s, False)
        lines.append(f"{mark:<7} {at}: {shown(expected.line.text)}  ({place})")
    count = len(played.expected)
    if played.ways > 1:
        lines.append(f"The script can end in {played.ways} ways; the run above is one of them.")
    if count:
        lines.append(f"{counted(count, 'expectation')}: {count - broken} kept, {broken} broken.")
    else:
        lines.append("Nothing is expected of this script.")
    return "\n".join(lines), 1 if broken else 0
