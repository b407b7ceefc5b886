"""Several outputs of one run of `prove`: which, whether they can be, and writing them."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.certificates import as_file_name
from verifier.front.written import NotWritten, write_whole
from verifier.pipeline import Result
from verifier.source import Span

WHOLE = ("text", "json", "sarif", "junit")
"""Formats that tell a whole result in one text."""

OF_RUNS = {"vcd": ".vcd", "trace": ".trace.json", "itf": ".itf.json"}
"""Formats of which each run is a file of its own, and how its name ends."""

STANDARD_OUTPUT = "-"

_OPTION = Span("--output", 0, 0)


@dataclass(frozen=True, slots=True)
class Output:
    """A format and where it goes: a path, or ``-``; ``exact``: a run's file has just this name."""

    form: str
    path: str
    exact: bool = False

    @property
    def is_folder(self) -> bool:
        """Whether the path is a folder that takes a file for each run."""
        if self.form not in OF_RUNS or self.path == STANDARD_OUTPUT:
            return False
        ends = self.path.endswith(("/", os.sep))
        return ends or Path(self.path).is_dir() or not Path(self.path).suffix

    @property
    def to_standard_output(self) -> bool:
        """Whether it is printed."""
        return self.path == STANDARD_OUTPUT


def outputs_of(
    given: tuple[str, ...], *, one_asked: bool, prints: bool, folders: tuple[str, ...]
) -> tuple[tuple[Output, ...], tuple[Diagnostic, ...]]:
    """The outputs that were asked for, and what is wrong with them.

    ``one_asked``: one job, and one requirement of it; ``prints``: something is printed in any case.
    """
    outputs: list[Output] = []
    problems: list[Diagnostic] = []
    for text in given:
        form, colon, path = text.partition(":")
        if form not in (*WHOLE, *OF_RUNS) or not colon or not path:
            problems.append(_unknown(text, form))
        elif form in OF_RUNS and path == STANDARD_OUTPUT and not one_asked:
            problems.append(_many_runs(text))
        else:
            outputs.append(Output(form, path, exact=one_asked))
    problems.extend(_clashes(outputs, prints, folders))
    for output in outputs:
        if not output.to_standard_output:
            problem = _in_the_way(output)
            problems.extend([] if problem is None else [problem])
    return tuple(outputs), tuple(problems)


def with_outputs(
    results: tuple[Result, ...],
    folders: tuple[str, ...],
    outputs: tuple[Output, ...],
    *,
    strict: bool,
) -> tuple[tuple[Result, ...], str | None]:
    """The results, with an error for what could not be written; and what is to be printed.

    Everything that can be written is, also where something else cannot.
    """
    printed: str | None = None
    problems: list[Diagnostic] = []
    for output in outputs:
        texts = list(_texts(output, results, folders, strict))
        if output.to_standard_output:
            printed = "".join(text for _, text in texts)
            continue
        for path, text in texts:
            try:
                write_text(path, text)
            except NotWritten as wrong:
                problems.append(wrong.args[0])
    if problems and results:
        last = replace(results[-1], findings=(*results[-1].findings, *problems))
        results = (*results[:-1], last)
    return results, printed


def _texts(
    output: Output, results: tuple[Result, ...], folders: tuple[str, ...], strict: bool
) -> Iterator[tuple[Path, str]]:
    """Each file of an output and its text."""
    if output.form in OF_RUNS:
        yield from _of_runs(output, results)
        return
    path = Path(output.path)
    match output.form:
        case "sarif":
            from verifier.front.sarif import sarif_json

            yield path, sarif_json(results, folders, strict)
        case "junit":
            from verifier.front.junit import junit_xml

            yield path, junit_xml(results, strict)
        case "json":
            from verifier.front.result_json import results_json

            yield path, results_json(results, strict) + "\n"
        case _:
            from verifier.front.paint import PLAIN, paint_for
            from verifier.front.result_text import result_text

            paint = paint_for(sys.stdout) if output.to_standard_output else PLAIN
            yield path, "\n".join(result_text(result, strict, paint, 100) for result in results)


def _of_runs(output: Output, results: tuple[Result, ...]) -> Iterator[tuple[Path, str]]:
    from verifier.handover.traces import traces_of

    for result, job_name in zip(results, job_names(results), strict=True):
        if result.job is None:
            continue
        verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
        for trace in traces_of(result.job, result.verdicts):
            name = trace.requirement.name
            match output.form:
                case "vcd":
                    from verifier.front.vcd import vcd_text

                    text = vcd_text(result, trace)
                case "itf":
                    from verifier.front.itf import itf_json

                    text = itf_json(result, trace)
                case _:
                    from verifier.front.trace_json import trace_json

                    text = trace_json(result, result.job, verdicts[name], trace)
            yield _path_of_run(output, job_name if len(results) > 1 else "", name), text


def job_names(results: tuple[Result, ...]) -> list[str]:
    """A name for each job that may stand in a path, no two alike."""
    names: list[str] = []
    for result in results:
        plain = as_file_name(result.name)
        number = 1
        while (name := plain if number == 1 else f"{plain}-{number}") in names:
            number += 1
        names.append(name)
    return names


def _path_of_run(output: Output, job: str, requirement: str) -> Path:
    """Where a run goes: into the folder, or beside the path with the requirement's name in it."""
    path, name = Path(output.path), as_file_name(requirement)
    if output.is_folder:
        return path / job / f"{name}{OF_RUNS[output.form]}"
    if output.exact:
        return path
    stem, dot, ending = path.name.partition(".")
    parts = "-".join(part for part in (stem, job, name) if part)
    return path.with_name(f"{parts}{dot}{ending}")


def write_text(path: Path, text: str) -> None:
    """Writes a file, with the folders above it. Raises: NotWritten."""
    data = text.encode("utf-8")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and not path.is_file() and not path.is_dir():
            # A pipe or a device is written to; a file in its place would not be what was meant.
            with path.open("wb") as stream:
                stream.write(data)
            return
    except OSError as error:
        raise NotWritten(_not_written(str(path), (error.strerror or "").lower())) from error
    write_whole(path, data)


# ---------------------------------------------------------------- what can be wrong


def _unknown(text: str, form: str) -> Diagnostic:
    known = (*WHOLE, *OF_RUNS)
    if form in known:
        message = f'"{text}" does not say where it goes'
        hint = f"Write --output {form}:PATH, or {form}:- for standard output."
    else:
        near = get_close_matches(form, known, n=1, cutoff=0.6)
        message = f'"{text}" names no format of output'
        meant = f"Did you mean {near[0]}? " if near else ""
        hint = f"{meant}Write --output FORMAT:PATH with one of {', '.join(known)}."
    return Diagnostic("unknown-output", Severity.ERROR, message, (Label(_OPTION),), hint)


def _many_runs(text: str) -> Diagnostic:
    return Diagnostic(
        "outputs-clash",
        Severity.ERROR,
        f'"{text}": each run is a text of its own, and they cannot all go to standard output',
        (Label(_OPTION),),
        "Ask for one requirement of one job (--only NAME), or give a folder.",
    )


def _clashes(outputs: list[Output], prints: bool, folders: tuple[str, ...]) -> Iterator[Diagnostic]:
    printed = [o for o in outputs if o.to_standard_output]
    if len(printed) + prints > 1:
        other = "--format" if prints else f"{printed[0].form}:-"
        yield _clash(
            f"{printed[-1].form}:- and {other} would both be printed, one into the other",
            "Let one of them go to a file.",
        )
    files = [o for o in outputs if not o.to_standard_output]
    for k, one in enumerate(files):
        path = Path(os.path.abspath(one.path))
        for other_ in files[:k]:
            beside = Path(os.path.abspath(other_.path))
            runs = one.is_folder and other_.is_folder
            same = path == beside and not (runs and one.form != other_.form)
            below = (path in beside.parents and not one.is_folder) or (
                beside in path.parents and not other_.is_folder
            )
            if same or below:
                yield _clash(
                    f"{other_.form}:{other_.path} and {one.form}:{one.path} would be written over "
                    "each other",
                    "Give each output a path of its own.",
                )
        if path.suffix in (".dusk", ".run") and any(
            path.parent == Path(os.path.abspath(folder)) for folder in folders
        ):
            yield _clash(
                f"{one.form}:{one.path} would be written over a file of the job",
                "Give another path.",
            )


def _clash(message: str, hint: str) -> Diagnostic:
    return Diagnostic("outputs-clash", Severity.ERROR, message, (Label(_OPTION),), hint)


def _in_the_way(output: Output) -> Diagnostic | None:
    """Why a path cannot be written to, as far as it can be seen before."""
    path = Path(output.path)
    try:
        if path.is_dir() and not output.is_folder:
            return _not_written(output.path, "it is a folder")
        if output.is_folder and path.exists() and not path.is_dir():
            return _not_written(output.path, "it is a file, and a folder is wanted")
        above = path if output.is_folder else path.parent
        while not above.exists() and above != above.parent:
            above = above.parent
    except (OSError, ValueError) as error:
        return _not_written(output.path, str(error).lower())
    if not above.is_dir():
        return _not_written(output.path, f'"{above}" is a file')
    if not os.access(above, os.W_OK | os.X_OK):
        return _not_written(output.path, f'the folder "{above}" may not be written to')
    return None


def _not_written(path: str, why: str) -> Diagnostic:
    return Diagnostic(
        "file-not-written",
        Severity.ERROR,
        f'"{path}" cannot be written: {why or "the disk refuses it"}',
        (Label(_OPTION),),
        "Give a path that may be written to and has room.",
    )
