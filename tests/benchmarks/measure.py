"""Measures everything and writes the table: ``python -m tests.benchmarks.measure``.

Each figure comes from a process of its own (:mod:`tests.benchmarks.one`); a figure below a
second is the median of three. It takes about five minutes; nothing in it is a test.
``--show`` prints the table and leaves the file as it is.
"""

from __future__ import annotations

import compileall
import json
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from math import nan
from pathlib import Path
from statistics import median

from tests.benchmarks.families import FAMILIES, Family
from tests.benchmarks.one import MOST_MB, Measured

ROOT = Path(__file__).resolve().parent.parent.parent
BOATHOUSE = "specs/boathouse"
LIMIT_S = 10.0
TIMES = 3
COLD_RUNS = 5
SLOW_S = 1.0
"""What takes longer is measured once."""


@dataclass(frozen=True, slots=True)
class Row:
    """A job or its twin: what the prover and Spacer took. None: not tried."""

    family: str
    size: str
    twin: bool
    prover: Measured
    spacer: Measured | None


@dataclass(frozen=True, slots=True)
class Cold:
    """``duskproof prove`` as a whole process, several times.

    Units: ``seconds`` of each run; ``largest_mb`` the largest process of any run, ``together_mb``
    the most that all processes of one run had at a moment (None where the system does not tell);
    ``requirements`` the median seconds of each requirement, by name.
    """

    seconds: tuple[float, ...]
    largest_mb: float
    together_mb: float | None
    exit_code: int
    requirements: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Results:
    """All that was measured in one run."""

    rows: tuple[Row, ...]
    cold: Cold
    one_by_one: Cold


def once(who: str, subject: tuple[str, ...]) -> Measured:
    """One process's measurement; ended for certain after twice the limit."""
    command = [sys.executable, "-m", "tests.benchmarks.one", str(LIMIT_S), who, *subject]
    began = time.perf_counter()
    try:
        done = subprocess.run(
            command,
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=2 * LIMIT_S + 5,
            check=True,
        )
    except subprocess.TimeoutExpired:
        why, memory = "kept no limit, ended from outside", nan
    except subprocess.CalledProcessError as failure:
        if "memory" not in failure.stderr.lower() and failure.returncode > 0:
            raise RuntimeError(f"{who} {' '.join(subject)}: {failure.stderr}") from failure
        why, memory = f"ended at {MOST_MB} MB", float(MOST_MB)
    else:
        return Measured(**json.loads(done.stdout))
    passed = time.perf_counter() - began
    return Measured("undecided", why, passed, passed, 0, 0.0, memory)


def several(who: str, subject: tuple[str, ...]) -> Measured:
    """The median of a few measurements, by time; one if it is slow."""
    all_ = [once(who, subject)]
    while len(all_) < TIMES and all_[0].seconds < SLOW_S:
        all_.append(once(who, subject))
    return sorted(all_, key=lambda one: one.seconds)[len(all_) // 2]


def rows_of(family: Family) -> list[Row]:
    """A family's rows. Spacer is not tried on sizes after one at which its time was over."""
    rows = []
    for which in ("job", "twin"):
        tried = True
        for size in family.sizes:
            subject = (family.name, str(size), which)
            prover = several("prover", subject)
            spacer = several("spacer", subject) if tried else None
            tried = tried and spacer is not None and spacer.verdict != "undecided"
            rows.append(Row(family.name, str(size), which == "twin", prover, spacer))
            _say(f"{' '.join(subject)}: {prover.verdict} {prover.seconds:.3f} s")
    return rows


def boathouse_rows(names: tuple[str, ...]) -> list[Row]:
    """Requirements of the boathouse."""
    rows = []
    for name in names:
        subject = (BOATHOUSE, name)
        rows.append(
            Row("boathouse", name, False, several("prover", subject), several("spacer", subject))
        )
        _say(f"boathouse {name}")
    return rows


def cold(*options: str) -> Cold:
    """The whole command on the boathouse, with further options."""
    runs, peaks, codes = [], [], set()
    each: dict[str, list[float]] = {}
    command = [
        sys.executable,
        "-c",
        "from verifier.front.command import main; main()",
        "prove",
        BOATHOUSE,
        "--format",
        "json",
        "--no-cache",
        *options,
    ]
    for _ in range(COLD_RUNS):
        began = time.perf_counter()
        process = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert process.stdout is not None
        said = process.stdout.read()
        _, status, usage = os.wait4(process.pid, 0)
        runs.append(time.perf_counter() - began)
        process.returncode = os.waitstatus_to_exitcode(status)
        process.stdout.close()
        codes.add(process.returncode)
        peaks.append(usage.ru_maxrss / 1024)
        for requirement in json.loads(said)["requirements"]:
            each.setdefault(requirement["name"], []).append(requirement["seconds"])
    together = _together_mb(command)
    _say(f"boathouse, whole process: {median(runs):.2f} s")
    return Cold(
        tuple(runs),
        max(peaks),
        together,
        max(codes),
        tuple((name, median(seconds)) for name, seconds in each.items()),
    )


def _together_mb(command: list[str]) -> float | None:
    """The most that a command and its workers hold together, shared pages counted once."""
    if not Path("/proc/self/smaps_rollup").exists():
        return None
    most = 0.0
    process = subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    while process.poll() is None:
        most = max(most, sum(share_mb(pid) for pid in family_of(process.pid)))
        time.sleep(0.02)
    return most


def family_of(pid: int) -> list[int]:
    found, todo = [], [pid]
    while todo:
        one = todo.pop()
        found.append(one)
        try:
            children = Path(f"/proc/{one}/task/{one}/children").read_text("ascii")
        except OSError:
            continue
        todo.extend(int(child) for child in children.split())
    return found


def share_mb(pid: int) -> float:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text("ascii")
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss:")) / 1024


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def as_installed() -> None:
    """Has Python compile the package beforehand, as an installer does, and keep what it compiles."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    compileall.compile_dir(ROOT / "verifier", quiet=1)


def main(arguments: list[str]) -> int:
    """0, with the table written or shown."""
    from tests.benchmarks.report import text_of

    as_installed()
    rows = [row for family in FAMILIES for row in rows_of(family)]
    rows.extend(boathouse_rows(("porch_lit", "fan_short", "moving_light", "nobody_dark")))
    text = text_of(Results(tuple(rows), cold(), cold("--workers", "1")))
    if "--show" in arguments:
        print(text)
    else:
        (Path(__file__).parent / "README.md").write_text(text, "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
