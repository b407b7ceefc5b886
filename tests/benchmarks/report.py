"""The README of what was measured: machine, targets, table."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable
from math import inf, isnan, nan
from statistics import median

from tests.benchmarks.families import FAMILIES
from tests.benchmarks.measure import LIMIT_S, SLOW_S, Cold, Results, Row
from verifier.proof.solvers import solver_versions

HEAD = """# How fast it is

Written by `python -m tests.benchmarks.measure` (about five minutes), not by hand. No test measures time.

- **Machine**: {machine}.
  Other work ran on it (load average {load} at the end): times
  are longer than on a quiet machine, by about the load for each core. CPU time beside them is steadier.
- **Time** of a job runs from its text to the verdict, in a process that has done nothing else: reading,
  checking, slicing, searching, the certificate made and checked by z3 and cvc5, and whether the
  requirement came into play. Loading the solvers is not in it (it is in the whole process below).
  Median of three, of five for the whole process; what takes more than {slow:g} s is measured once.
  The limit is {limit:g} s.
- **Spacer** is the yardstick: z3's Fixedpoint over the reals, `spacer.push_pob`, its own preprocessing,
  on the whole system of the job with nothing cut away and nothing fused: a step is one happening, or one
  trigger handled, run going on, waiting trigger taken or requirement looking
  ([`yardstick.py`](yardstick.py), [`unfused.py`](unfused.py)). It makes no certificate and checks nothing.
  “Not tried”: its time was over at a smaller size.
- **Ratio**: Spacer's CPU time by the prover's. Below 1 Spacer is the quicker one; “over” where its time was
  over.
- **Certificate**: number of lemmas, and kilobytes of SMT-LIB in its seven texts.

## Beside other checkers

[`PEERS.md`](PEERS.md), written by `python -m tests.benchmarks.peers`: the same questions put to Spacer, Rumur
(explicit states), ABC (PDR on bits) and TChecker (zones), each verdict compared with ours, and where one of
them is quicker, and why.
"""


def text_of(results: Results) -> str:
    """The whole README."""
    parts = [
        HEAD.format(
            machine=machine(),
            load=", ".join(f"{value:.1f}" for value in os.getloadavg()),
            limit=LIMIT_S,
            slow=SLOW_S,
        ),
        "## Targets\n",
        *target_table(results),
        "",
        *_summary(results),
        "",
        "## Families\n",
        "Each job's bound is exact: the twin's is one second sharper ([`families.py`](families.py)).\n",
    ]
    for family in FAMILIES:
        rows = [row for row in results.rows if row.family == family.name]
        parts.extend([f"### {family.name}(n): {family.what}\n", *table(rows, "n"), ""])
    parts.extend(
        [
            "### Requirements of the boathouse, one at a time\n",
            *table([row for row in results.rows if row.family == "boathouse"], "requirement"),
            "",
            "## The boathouse as a whole process\n",
            *_cold(results.cold, "`duskproof prove specs/boathouse --format json`"),
            "",
            *_cold(results.one_by_one, "The same with `--workers 1`"),
        ]
    )
    return "\n".join(parts) + "\n"


def machine() -> str:
    """What this was measured on, in words."""
    solvers = ", ".join(f"{name} {version}" for name, version in solver_versions())
    return (
        f"{os.cpu_count()} shared cores, {platform.system()} {platform.machine()}, "
        f"Python {platform.python_version()}, {solvers}"
    )


def seconds(value: float) -> str:
    """A time for people.

    >>> [seconds(v) for v in (0.0123, 0.42, 12.34)]
    ['12.3 ms', '0.42 s', '12.3 s']
    """
    if value == inf:
        return "not proved"
    if value < 0.1:
        return f"{value * 1000:.3g} ms"
    return f"{value:.2f} s" if value < 10 else f"{value:.1f} s"


def table(rows: list[Row], heading: str) -> list[str]:
    """The lines of a table."""
    lines = [
        f"| {heading} | verdict | time | CPU | method | certificate | memory | Spacer | ratio |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in rows:
        prover = row.prover
        size = f"{row.size}, twin" if row.twin else row.size
        certificate = (
            f"{prover.lemmas}, {prover.certificate_kb:.0f} kB" if prover.certificate_kb else "—"
        )
        lines.append(
            f"| {size} | {prover.verdict} | {seconds(prover.seconds)} | "
            f"{seconds(prover.cpu_seconds)} | {prover.method or '—'} | "
            f"{certificate} | {_memory(prover.memory_mb)} | {_spacer(row)} | {_ratio(row)} |"
        )
    return lines


def _memory(megabytes: float) -> str:
    return "not known" if isnan(megabytes) else f"{megabytes:.0f} MB"


def _spacer(row: Row) -> str:
    if row.spacer is None:
        return "not tried"
    if row.spacer.verdict == "undecided":
        return f"none in {LIMIT_S:g} s"
    other = "" if row.spacer.verdict == row.prover.verdict else f"{row.spacer.verdict}, "
    return f"{other}{seconds(row.spacer.seconds)}"


def _ratio(row: Row) -> str:
    if row.spacer is None or row.prover.verdict == "undecided":
        return "—"
    ratio = row.spacer.cpu_seconds / row.prover.cpu_seconds
    over = "over " if row.spacer.verdict == "undecided" else ""
    return f"{over}{ratio:.2g}" if ratio < 10 else f"{over}{ratio:.0f}"


def target_table(results: Results) -> list[str]:
    """Each target, what was measured, and whether it is reached."""
    cold = results.cold

    def of(family: str, size: int) -> float:
        for row in results.rows:
            if (row.family, row.size, row.twin) == (family, str(size), False):
                return row.prover.seconds if row.prover.verdict == "proved" else inf
        raise LookupError(family, size)

    twins = [row for row in results.rows if row.twin]
    slowest = max(twins, key=lambda row: row.prover.seconds)
    middle = median(row.prover.seconds for row in twins)
    largest = max(
        (row for row in results.rows if not isnan(row.prover.memory_mb)),
        key=lambda row: row.prover.memory_mb,
    )
    together = nan if cold.together_mb is None else cold.together_mb
    lines = ["| what | target | measured | reached |", "| --- | --- | --- | --- |"]

    def add(what: str, target: float, value: float, shown: Callable[[float], str]) -> None:
        reached = "yes" if value < target else "**no**"
        if 0.9 * target < value < 1.1 * target:
            reached += ", within a tenth of it"
        lines.append(f"| {what} | under {shown(target)} | {shown(value)} | {reached} |")

    add("`prove specs/boathouse`, cold, whole process", 1.5, median(cold.seconds), seconds)
    one_by_one = _median_requirement(results.one_by_one)
    add("median requirement of the boathouse, one at a time", 0.040, one_by_one, seconds)
    add(
        "median requirement of the boathouse, a worker for each core",
        0.040,
        _median_requirement(cold),
        seconds,
    )
    add("corridor(8), certificate checked", 0.4, of("corridor", 8), seconds)
    add("corridor(32), certificate checked", 3.0, of("corridor", 32), seconds)
    add(f"refuted twin, median of {len(twins)}", 0.1, middle, seconds)
    add(
        f"refuted twin, the slowest ({slowest.family}, {slowest.size})",
        0.1,
        slowest.prover.seconds,
        seconds,
    )
    add("memory: all processes of the boathouse together", 300, together, _memory)
    add(
        f"memory: the largest known of the families' processes ({largest.family}, {largest.size})",
        300,
        largest.prover.memory_mb,
        _memory,
    )
    return lines


def _summary(results: Results) -> list[str]:
    missed = [row for row in results.rows if row.twin and row.prover.seconds >= 0.1]
    undecided = [row for row in results.rows if row.prover.verdict == "undecided"]
    slower = [
        row
        for row in results.rows
        if row.spacer is not None
        and row.spacer.verdict != "undecided"
        and row.spacer.cpu_seconds < row.prover.cpu_seconds
    ]
    return [
        f"- Twins that take 0.1 s or longer: {_named(missed)}.",
        f"- Undecided by the prover: {_named(undecided)}.",
        f"- Spacer quicker than the prover (which also certifies): {_named(slower)}.",
    ]


def _named(rows: list[Row]) -> str:
    names = [
        f"{row.family}({row.size}){' twin' if row.twin and not all(r.twin for r in rows) else ''}"
        for row in rows
    ]
    return ", ".join(names) if names else "none"


def _median_requirement(cold: Cold) -> float:
    return median(value for _, value in cold.requirements)


def _cold(cold: Cold, what: str) -> list[str]:
    runs = ", ".join(f"{value:.2f}" for value in sorted(cold.seconds))
    slow = sorted(cold.requirements, key=lambda one: -one[1])[:3]
    together = "not told" if cold.together_mb is None else f"{cold.together_mb:.0f} MB"
    return [
        f"{what}, exit code {cold.exit_code}, {len(cold.requirements)} requirements:\n",
        f"- runs, in seconds: {runs}; median **{median(cold.seconds):.2f} s**",
        f"- a requirement, as the result tells it: median {seconds(_median_requirement(cold))}, "
        f"slowest {', '.join(f'{name} {seconds(value)}' for name, value in slow)}",
        f"- memory: largest process {cold.largest_mb:.0f} MB; all at once, shared pages counted "
        f"once, {together}",
    ]
