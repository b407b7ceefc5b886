"""Measures how the cost grows with a building: ``python -m tests.benchmarks.scale``.

Each figure is the median of five runs of `duskproof prove` as a whole process, each with an empty
cache of its own (cold), or with a copy of what the cold run left (cached, or after an edit of one
line). Memory is what all its processes hold together, shared pages counted once. What takes more
than half a minute is run once. It writes ``SCALE.md`` and ``scale.svg`` beside this file;
``--show`` prints the table instead, ``--quick`` leaves out what takes minutes.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import astuple, dataclass
from math import log
from pathlib import Path
from statistics import median

from tests.benchmarks.buildings import RULES_OF_A_ROOM, building, edited, files, house
from tests.benchmarks.measure import as_installed, family_of, share_mb
from verifier.proof.verdict import Proved

ROOT = Path(__file__).resolve().parent.parent.parent
RUNS = 5
SLOW_S = 30.0
"""What takes longer is run once."""

EDITOR = "--in-an-editor"
"""The argument with which a process measures one edit."""

SAMPLE_S = 0.05
"""Seconds between two looks at the memory."""

Texts = dict[str, str]
"""The files of a job by name."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the command. Units: seconds of the clock, megabytes of all processes together."""

    seconds: float
    memory_mb: float
    requirements: int
    proved: int
    cpu_s: float = 0.0
    """Seconds of all its processors together."""


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of run of one job, with what is to be reached (None: nothing is said)."""

    what: str
    rules: int
    runs: tuple[Run, ...]
    target_s: float | None = None
    target_mb: float | None = None

    @property
    def seconds(self) -> float:
        """The median."""
        return median(run.seconds for run in self.runs)

    @property
    def cpu_s(self) -> float:
        """The median, of all processors together."""
        return median(run.cpu_s for run in self.runs)

    @property
    def memory_mb(self) -> float:
        """The most of any run."""
        return max(run.memory_mb for run in self.runs)

    @property
    def all_proved(self) -> bool:
        """Whether every run proved every requirement that was asked."""
        return all(run.requirements == run.proved > 0 for run in self.runs)


@dataclass(frozen=True, slots=True)
class Growth:
    """The rows of one kind of building as it grows."""

    name: str
    rows: tuple[Row, ...]

    @property
    def points(self) -> tuple[tuple[int, float], ...]:
        """Rules and seconds."""
        return tuple((row.rules, row.seconds) for row in self.rows)


# ---------------------------------------------------------------- running


def one_run(folder: Path, cache: Path) -> Run:
    """`duskproof prove` on a folder, with its answers kept in ``cache``."""
    command = [
        sys.executable,
        "-c",
        "from verifier.front.command import main; main()",
        *("prove", str(folder), "--cache", str(cache), "--format", "json"),
    ]
    with tempfile.TemporaryFile() as said:
        spent = _spent()
        began = time.perf_counter()
        process = subprocess.Popen(command, cwd=ROOT, stdout=said, stderr=subprocess.DEVNULL)
        most = 0.0
        while process.poll() is None:
            most = max(most, sum(share_mb(pid) for pid in family_of(process.pid)))
            try:
                process.wait(max(SAMPLE_S, (time.perf_counter() - began) / 100))
            except subprocess.TimeoutExpired:
                continue
        seconds = time.perf_counter() - began
        said.seek(0)
        requirements = json.load(said)["requirements"]
    proved = sum(found["verdict"] in ("proved", "answered") for found in requirements)
    return Run(seconds, most, len(requirements), proved, _spent() - spent)


def _spent() -> float:
    """Seconds of processors that all processes took that were waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def written(texts: Texts, folder: Path) -> Path:
    """The folder, with the files of a job in it and nothing else."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for name, text in texts.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def in_editor() -> Run:
    """One edit of the house in a process that has judged it before, as an editor's has."""
    from verifier.pipeline import Result
    from verifier.source import SourceFile
    from verifier.workbench import Workbench

    def judged(bench: Workbench, text: str) -> tuple[float, Result]:
        began = time.perf_counter()
        bench.put([SourceFile("house.dusk", text)])
        result = bench.judge()
        return time.perf_counter() - began, result

    with Workbench("house") as bench:
        judged(bench, house())
        seconds, result = judged(bench, edited(house()))
        # Its workers stay, too.
        memory = sum(share_mb(process) for process in family_of(os.getpid()))
    proved = sum(isinstance(verdict, Proved) for _, verdict, _ in result.verdicts)
    return Run(seconds, memory, len(result.verdicts), proved, time.process_time())


def in_editors() -> tuple[Run, ...]:
    """The same, each time in a new process."""
    command = [sys.executable, "-m", "tests.benchmarks.scale", EDITOR]
    said = [subprocess.run(command, cwd=ROOT, capture_output=True, check=True) for _ in range(RUNS)]
    return tuple(Run(*json.loads(one.stdout)) for one in said)


class Bench:
    """Runs jobs in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.kept = folder / "kept"
        self.cache = folder / "cache"

    def cold(self, texts: Texts, most: int = RUNS) -> tuple[Run, ...]:
        """Runs without anything kept; what the last one keeps is there for those that follow."""
        job = written(texts, self.folder / "job")
        runs: list[Run] = []
        while len(runs) < most and not (runs and runs[0].seconds > SLOW_S):
            shutil.rmtree(self.kept, ignore_errors=True)
            runs.append(one_run(job, self.kept))
        return tuple(runs)

    def warm(self, texts: Texts, most: int = RUNS) -> tuple[Run, ...]:
        """Runs with what the last cold run kept, each with a copy of it."""
        job = written(texts, self.folder / "job")
        runs: list[Run] = []
        for _ in range(most):
            shutil.rmtree(self.cache, ignore_errors=True)
            shutil.copytree(self.kept, self.cache)
            runs.append(one_run(job, self.cache))
        return tuple(runs)


def one_line_changed(texts: Texts) -> Texts:
    """The job with one line of its first file changed."""
    first = next(iter(texts))
    return texts | {first: edited(texts[first])}


def boathouse() -> Texts:
    """The files of the demo."""
    return {
        path.name: path.read_text("utf-8")
        for path in sorted((ROOT / "specs" / "boathouse").glob("*.dusk"))
    }


def of_typicals(kinds: int, rooms: int) -> Texts:
    """A building of typicals."""
    return {"job.dusk": building(kinds, rooms)}


def targets(bench: Bench) -> list[Row]:
    """The rows of the table for which there is something to reach."""
    rows: list[Row] = []

    def add(what: str, rules: int, runs: tuple[Run, ...], s: float, mb: float | None) -> None:
        rows.append(Row(what, rules, runs, s, mb))
        _say(f"{what}: {rows[-1].seconds:.2f} s, {rows[-1].memory_mb:.0f} MB")

    add("boathouse, cold", 9, bench.cold(boathouse()), 1.0, None)
    add("boathouse, all kept", 9, bench.warm(boathouse()), 0.4, None)
    texts = {"house.dusk": house()}
    add("house, cold", 60, bench.cold(texts), 4.0, None)
    add("house, one line changed", 60, bench.warm(one_line_changed(texts)), 0.7, None)
    add("house, one line changed, in an editor's process", 60, in_editors(), 0.1, None)
    texts = of_typicals(40, 50)
    add("building of 40 typicals, cold", 10_000, bench.cold(texts), 30.0, 1500.0)
    changed = one_line_changed(texts)
    add("building of 40 typicals, one line changed", 10_000, bench.warm(changed), 2.0, 1500.0)
    return rows


def growing(bench: Bench, *, quick: bool) -> list[Growth]:
    """Buildings of 10, 100, 1,000 and 10,000 rules."""
    kinds: list[tuple[str, Callable[[int], Texts]]] = [
        ("2 typicals, ever more rooms", lambda rooms: of_typicals(2, rooms // 2)),
        ("written out by hand, no two rooms alike", lambda rooms: dict(files(rooms))),
    ]
    found = []
    for name, texts_of in kinds:
        rows = []
        for rules in (10, 100, 1_000, 10_000):
            if quick and rules > 1_000 and "by hand" in name:
                continue
            runs = bench.cold(texts_of(rules // RULES_OF_A_ROOM))
            rows.append(Row(name, rules, runs))
            _say(f"{name}, {rules} rules: {rows[-1].seconds:.2f} s, {rows[-1].memory_mb:.0f} MB")
        found.append(Growth(name, tuple(rows)))
    return found


# ---------------------------------------------------------------- what it comes to


def exponent(points: tuple[tuple[int, float], ...]) -> float:
    """The power of the number of rules with which the time grows, by least squares of logarithms.

    >>> round(exponent(((10, 2.0), (100, 20.0), (1000, 200.0))), 6)
    1.0
    """
    xs = [log(rules) for rules, _ in points]
    ys = [log(seconds) for _, seconds in points]
    x, y = sum(xs) / len(xs), sum(ys) / len(ys)
    rise = sum((a - x) * (b - y) for a, b in zip(xs, ys, strict=True))
    return rise / sum((a - x) ** 2 for a in xs)


def without_the_start(points: tuple[tuple[int, float], ...]) -> tuple[tuple[int, float], ...]:
    """The points above the smallest, less what that one takes: start-up, which does not grow.

    What is left of a point is not told from noise where it is less than a tenth of that.

    >>> without_the_start(((10, 0.5), (100, 0.75), (1000, 3.0)))
    ((100, 0.25), (1000, 2.5))
    """
    (_, least), *others = points
    return tuple((rules, seconds - least) for rules, seconds in others if seconds > 1.1 * least)


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def main(arguments: list[str]) -> int:
    """0, with the table and the plot written, or the table shown."""
    from tests.benchmarks.scale_report import plot, text_of

    if EDITOR in arguments:
        print(json.dumps(astuple(in_editor())))
        return 0
    as_installed()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        rows = targets(bench)
        growth = growing(bench, quick="--quick" in arguments)
    text = text_of(rows, growth)
    if "--show" in arguments:
        print(text)
        return 0
    here = Path(__file__).parent
    (here / "SCALE.md").write_text(text, "utf-8")
    (here / "scale.svg").write_text(plot(growth), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
