"""``python -m tests.mutation.run``: how many wrong versions of the trusted code the tests notice.

Copies the last commit to a folder of its own, finds out which test runs which line (``reach``),
draws mutants of cosmic-ray at random, and runs for each the tests that run the changed statement,
the quickest first, up to the first that fails (``one``). Prints a table and the survivors. What was
found is in tests/README.md. No part of the dev extra: ``pip install cosmic-ray coverage`` first.

The folder is kept: the same command again goes on where it was stopped; ``--again`` runs those that
survived once more, with the test files of this checkout (``--budget 1000``: all tests).

A mutant that no version of the code can show is left out beforehand: in an annotation (they are
not evaluated), or an order asked of what has none (`is` turned to `<` raises at once).
"""

from __future__ import annotations

import argparse
import ast
import difflib
import json
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

from tests.mutation.one import preload, run, tests_for, written
from tests.mutation.stay import REASONS, STAY

ROOT = Path(__file__).parents[2]

CORE = (
    "verifier/simulate/handling.py",
    "verifier/simulate/structure.py",
    "verifier/simulate/system.py",
    "verifier/simulate/monitor.py",
    "verifier/simulate/instant.py",
    "verifier/simulate/replay.py",
    "verifier/simulate/program.py",
    "verifier/simulate/durations.py",
    "verifier/simulate/fading.py",
    "verifier/surroundings/state.py",
    "verifier/surroundings/happenings.py",
    "verifier/surroundings/world.py",
    "verifier/surroundings/reports.py",
    "verifier/surroundings/levels.py",
    "verifier/surroundings/calendar.py",
    "verifier/surroundings/laid_calendar.py",
    "verifier/surroundings/sky.py",
    "verifier/proof/certificate.py",
    "verifier/proof/checker.py",
    "verifier/proof/closed.py",
    "verifier/proof/formula.py",
    "verifier/proof/relation.py",
    "verifier/proof/solvers.py",
    "verifier/proof/left_out.py",
    "verifier/proof/tied.py",
)
"""What must be right for a verdict to be right."""

GRAMMAR_TO_GRAPH = (
    "verifier/language/build.py",
    "verifier/language/lexer.py",
    "verifier/model/applying.py",
    "verifier/model/conditions.py",
    "verifier/model/places.py",
    "verifier/model/points.py",
    "verifier/model/requirements.py",
    "verifier/model/rules.py",
    "verifier/graph/slice.py",
    "verifier/graph/transitions.py",
    "verifier/graph/footprints.py",
)

TESTS = (
    *("tests/language", "tests/model", "tests/graph", "tests/surroundings", "tests/simulate"),
    *("tests/meaning", "tests/proof", "tests/outside", "tests/front/test_certificate_check.py"),
    *("verifier/language", "verifier/model", "verifier/graph", "verifier/simulate"),
    *("verifier/surroundings", "verifier/proof"),
)
"""Those that run in this process; what a command of its own shows is no part of it."""

_PLAIN = re.compile(
    r"core/(AddNot|Replace(And|Or|True|False|Break|Continue)\w*|ZeroIterationForLoop|NumberReplacer"
    r"|ReplaceUnaryOperator_Delete_\w+"
    r"|ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Add|BitAnd_BitOr|BitOr_BitAnd|LShift_RShift"
    r"|RShift_LShift|FloorDiv_Mul|Div_Mul)"
    r"|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is|Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt"
    r"|Lt_GtE|Gt_LtE|LtE_Gt|GtE_Lt))$"
)
"""One way to be wrong for each operator, and both sides of each boundary."""


STAYS = {
    (module, "".join(was.split()), "".join(wrong.split())): why
    for (module, was, wrong), why in STAY.items()
}
"""The same without blanks."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change at one place, as cosmic-ray names it."""

    module: str
    operator: str
    occurrence: int
    row: int


def main() -> int:
    """Runs it; the exit code is 0 if nothing went wrong with the running itself."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=["core", "front"], default="core")
    parser.add_argument("--sample", type=int, default=400, help="so many mutants, at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, required=True, help="where to work (made; kept)")
    parser.add_argument("--budget", type=float, default=40, help="seconds of tests for each")
    parser.add_argument("--again", action="store_true", help="the survivors once more")
    parser.add_argument("--skip", nargs="*", default=[], help="modules to leave out")
    parser.add_argument("--of", default="", help="only modules that begin so")
    parser.add_argument("--also", nargs="*", default=[], help="test files that always run")
    given = parser.parse_args()
    folder: Path = given.folder.resolve()
    if not folder.exists():
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(folder)], check=True)
    elif given.again and folder != ROOT:
        shutil.copytree(ROOT / "tests", folder / "tests", dirs_exist_ok=True)
    results = folder / f"mutation-{given.part}-{given.seed}.jsonl"
    reach = reached(folder)
    chosen = [
        mutant
        for mutant in choose(folder, given.part, given.sample, given.seed)
        if mutant.module not in given.skip
        and mutant.module.startswith(given.of)
        and not shows_nothing(folder, mutant)
    ]
    print(f"{len(chosen)} to run", flush=True)
    preload()
    for mutant in chosen[:3]:
        control = judge(folder, mutant, reach, 10, given.also, right=True)
        assert control["what"] == "survived", f"the code as it is fails: see {folder}/last.log"
    earlier = read(results)
    for at, mutant in enumerate(chosen, 1):
        before = earlier.get(key(mutant))
        if before is not None and not (given.again and before["what"] == "survived"):
            continue
        line = judge(folder, mutant, reach, given.budget, given.also)
        with results.open("a", encoding="utf-8") as out:
            out.write(json.dumps(line) + "\n")
        print(at, line["what"], line["seconds"], key(mutant), line["by"], flush=True)
    print(table([found for m in chosen if (found := read(results).get(key(m)))]))
    return 0


def key(mutant: Mutant) -> str:
    """A name of a mutant."""
    return f"{mutant.module}:{mutant.row} {mutant.operator} {mutant.occurrence}"


def read(results: Path) -> dict[str, dict[str, Any]]:
    """The last result of each mutant."""
    if not results.exists():
        return {}
    lines = (json.loads(line) for line in results.read_text(encoding="utf-8").splitlines())
    return {line["key"]: line for line in lines}


def reached(folder: Path) -> dict[str, Any]:
    """Which test runs which line; found out once for each folder."""
    store = folder / "reach.json"
    if not store.exists():
        modules = [m for m in (*CORE, *GRAMMAR_TO_GRAPH) if (folder / m).exists()]
        tests = [t for t in TESTS if (folder / t).exists()]
        command = [sys.executable, "-m", "tests.mutation.reach", str(store), *modules, "--", *tests]
        subprocess.run(
            command, cwd=folder, env={**os.environ, "PYTHONPATH": str(folder)}, check=False
        )
    found: dict[str, Any] = json.loads(store.read_text(encoding="utf-8"))
    return found


def judge(
    folder: Path,
    mutant: Mutant,
    reach: dict[str, Any],
    budget_s: float,
    also: list[str],
    *,
    right: bool = False,
) -> dict[str, Any]:
    """Runs one mutant, or the code as it is; the line of the results."""
    path = folder / mutant.module
    source = path.read_text(encoding="utf-8")
    operator = import_module("cosmic_ray.plugins").get_operator(mutant.operator)()
    wrong: str | None = import_module("cosmic_ray.mutating").mutate_code(
        source, operator, mutant.occurrence
    )
    assert wrong is not None, mutant
    begin = time.monotonic()
    diff = [
        line
        for line in difflib.unified_diff(source.splitlines(), wrong.splitlines(), n=0, lineterm="")
        if line[:1] in "+-" and line[:3] not in ("+++", "---")
    ]
    stays = stay_of(mutant, diff)
    if stays and not right:
        return {**line_of(mutant, diff), "what": "stays", "by": stays, "tests": 0, "seconds": 0}
    tests = tests_for(reach, mutant.module, source, mutant.row, budget_s)
    with written(path, source if right else wrong):
        outcome = run(folder, tests, folder / "last.log", also)
    return {
        **line_of(mutant, diff),
        "what": outcome.what,
        "by": outcome.by,
        "tests": outcome.tests,
        "seconds": round(time.monotonic() - begin, 2),
    }


def line_of(mutant: Mutant, diff: list[str]) -> dict[str, Any]:
    """What the results say of a mutant before it is run."""
    named = {"key": key(mutant), "module": mutant.module, "row": mutant.row}
    return {**named, "operator": mutant.operator, "diff": diff}


def stay_of(mutant: Mutant, diff: list[str]) -> str:
    """The reason for which a mutant stays, empty if none is known."""
    if len(diff) != 2:
        return ""
    was, wrong = ("".join(line[1:].split()) for line in diff)
    return STAYS.get((mutant.module, was, wrong), "")


def choose(folder: Path, part: str, sample: int, seed: int) -> list[Mutant]:
    """A random sample of the mutants worth a run."""
    store = folder / f"mutation-{part}.sqlite"
    modules = CORE if part == "core" else GRAMMAR_TO_GRAPH
    if not store.exists():
        (folder / "mutation.toml").write_text(
            "[cosmic-ray]\n"
            f"module-path = {[m for m in modules if (folder / m).exists()]!r}\n"
            'timeout = 90.0\nexcluded-modules = []\ntest-command = ""\n'
            '[cosmic-ray.distributor]\nname = "local"\n',
            encoding="utf-8",
        )
        tool = [sys.executable, "-m", "cosmic_ray.cli", "init", "mutation.toml", str(store)]
        subprocess.run(tool, cwd=folder, check=True)
    with sqlite3.connect(store) as database:
        rows = database.execute(
            "select module_path, operator_name, occurrence, start_pos_row, start_pos_col"
            " from mutation_specs order by module_path, start_pos_row, start_pos_col,"
            " operator_name, occurrence"
        ).fetchall()
    worth = [
        Mutant(module, operator, occurrence, row)
        for module, operator, occurrence, row, column in rows
        if _PLAIN.match(operator) and not in_annotation(folder / module, row, column)
    ]
    print(f"{len(rows)} in all, {len(worth)} worth a run, seed {seed}", flush=True)
    return random.Random(seed).sample(worth, min(sample, len(worth)))


def shows_nothing(folder: Path, mutant: Mutant) -> bool:
    """Whether a mutant changes what no run depends on: what a data class forbids or how it is kept,
    whether lengths that are equal are compared, how much a cache holds."""
    line = (folder / mutant.module).read_text(encoding="utf-8").splitlines()[mutant.row - 1]
    return bool(re.search(r"@dataclass\(|strict=True|maxsize=", line)) and mutant.operator in (
        "core/ReplaceTrueWithFalse",
        "core/NumberReplacer",
    )


def in_annotation(path: Path, row: int, column: int) -> bool:
    """Whether a place is in an annotation: `a | b` is a type there."""
    return any(begin <= (row, column) <= end for begin, end in of_annotations(path))


@cache
def of_annotations(path: Path) -> tuple[tuple[tuple[int, int], tuple[int, int]], ...]:
    """Begin and end of each annotation of a file."""
    return tuple(
        ((part.lineno, part.col_offset), (part.end_lineno or 0, part.end_col_offset or 0))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None))
        if isinstance(part, ast.expr)
    )


def table(results: list[dict[str, Any]]) -> str:
    """Run, noticed and what stays for each module, and every survivor."""
    total = Counter(r["module"] for r in results)
    stays = Counter(r["module"] for r in results if r["what"] == "stays")
    noticed = Counter(r["module"] for r in results if r["what"] in ("noticed", "late"))
    head = ["| module | mutants | can show | noticed |", "| --- | --- | --- | --- |"]
    head += [f"| {m} | {total[m]} | {total[m] - stays[m]} | {noticed[m]} |" for m in sorted(total)]
    everything, dead, same = sum(total.values()), sum(noticed.values()), sum(stays.values())
    share = dead / max(everything - same, 1)
    head.append(f"| all | {everything} | {everything - same} | {dead} ({share:.1%}) |")
    because = Counter(r["by"] for r in results if r["what"] == "stays")
    lines = [f"{because[why]} {REASONS[why]}" for why in REASONS if because[why]]
    lines += ["", "Survivors:"]
    for r in sorted(results, key=lambda found: (found["module"], found["row"])):
        if r["what"] == "survived":
            operator = r["operator"].removeprefix("core/")
            lines += [f"{r['module']}:{r['row']} {operator}", *(f"    {d}" for d in r["diff"])]
    return "\n".join([*head, "", *lines])


if __name__ == "__main__":
    sys.exit(main())
