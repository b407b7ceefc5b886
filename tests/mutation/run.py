"""``python -m tests.mutation.run``: how many wrong versions of the trusted code the tests notice.

Copies the last commit to a folder of its own, lets cosmic-ray change one thing at a time, runs the
tests that should notice, and prints a table and the survivors. What was found is in
tests/README.md. cosmic-ray is no part of the dev extra: ``pip install cosmic-ray`` first.

A mutant that no version of the code can show is left out beforehand: in an annotation (they are
not evaluated), or an order asked of what has none (`is` turned to `<` raises at once).
"""

from __future__ import annotations

import argparse
import random
import re
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

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
    "verifier/surroundings/state.py",
    "verifier/surroundings/happenings.py",
    "verifier/surroundings/world.py",
    "verifier/proof/certificate.py",
    "verifier/proof/checker.py",
    "verifier/proof/formula.py",
    "verifier/proof/relation.py",
    "verifier/proof/solvers.py",
    "verifier/proof/left_out.py",
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

TESTS = {
    "core": "tests/proof/test_evidence.py tests/proof/test_left_out.py tests/meaning "
    "tests/proof/test_certificate_texts.py tests/proof/test_driver.py tests/proof/test_checker.py "
    "tests/front/test_certificate_check.py tests/simulate tests/proof/test_differential.py "
    "tests/proof/test_solvers.py tests/outside/test_mtl.py "
    "verifier/simulate verifier/surroundings verifier/proof",
    "front": "tests/language tests/model tests/graph tests/meaning verifier/language verifier/model "
    "verifier/graph",
}

_PLAIN = re.compile(
    r"core/(AddNot|Replace(And|Or|True|False|Break|Continue)\w*|ZeroIterationForLoop|NumberReplacer"
    r"|ReplaceUnaryOperator_Delete_\w+"
    r"|ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Add|BitAnd_BitOr|BitOr_BitAnd|LShift_RShift"
    r"|RShift_LShift|FloorDiv_Mul|Div_Mul)"
    r"|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is|Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt"
    r"|Lt_GtE|Gt_LtE|LtE_Gt|GtE_Lt))$"
)
"""One way to be wrong for each operator, and both sides of each boundary."""


def main() -> int:
    """Runs it; the exit code is 0 if nothing went wrong with the running itself."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=["core", "front"], default="core")
    parser.add_argument("--sample", type=int, default=400, help="so many mutants, at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where to work (made; kept)")
    given = parser.parse_args()
    folder = given.folder or Path(tempfile.mkdtemp(prefix="mutation-"))
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(folder)], check=True)
    modules = CORE if given.part == "core" else GRAMMAR_TO_GRAPH
    command = (
        f"env PYTHONDONTWRITEBYTECODE=1 PYTHONPATH={folder} {sys.executable} -m pytest -x -q "
        f"-p no:cacheprovider --no-header {TESTS[given.part]}"
    )
    (folder / "mutation.toml").write_text(
        "[cosmic-ray]\n"
        f"module-path = {list(modules)!r}\n"
        "timeout = 90.0\n"
        "excluded-modules = []\n"
        f'test-command = "{command}"\n'
        "[cosmic-ray.distributor]\n"
        'name = "local"\n',
        encoding="utf-8",
    )
    store = folder / "mutation.sqlite"
    tool = [sys.executable, "-m", "cosmic_ray.cli"]
    subprocess.run([*tool, "init", "mutation.toml", str(store)], cwd=folder, check=True)
    print(f"{choose(store, folder, given.sample, given.seed)} mutants", flush=True)
    subprocess.run([*tool, "exec", "mutation.toml", str(store)], cwd=folder, check=True)
    print(table(store))
    return 0


def choose(store: Path, folder: Path, sample: int, seed: int) -> int:
    """Leaves a random sample of the mutants worth a run; how many."""
    with sqlite3.connect(store) as database:
        rows = database.execute(
            "select job_id, operator_name, module_path, start_pos_row, start_pos_col"
            " from mutation_specs order by module_path, start_pos_row, start_pos_col,"
            " operator_name, occurrence"
        ).fetchall()
        worth = [
            job
            for job, operator, module, row, column in rows
            if _PLAIN.match(operator) and not in_annotation(folder / module, row, column)
        ]
        chosen = set(random.Random(seed).sample(worth, min(sample, len(worth))))
        print(f"{len(rows)} in all, {len(worth)} worth a run, seed {seed}")
        for job, *_ in rows:
            if job not in chosen:
                database.execute("delete from mutation_specs where job_id = ?", (job,))
                database.execute("delete from work_items where job_id = ?", (job,))
    return len(chosen)


def in_annotation(path: Path, row: int, column: int) -> bool:
    """Whether a place is in an annotation: `a | b` is a type there."""
    import ast

    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            if isinstance(part, ast.expr):
                begin = (part.lineno, part.col_offset)
                end = (part.end_lineno or 0, part.end_col_offset or 0)
                if begin <= (row, column) <= end:
                    return True
    return False


def table(store: Path) -> str:
    """Killed and survived for each module, and every survivor."""
    with sqlite3.connect(store) as database:
        rows = database.execute(
            "select m.module_path, m.operator_name, m.start_pos_row, r.test_outcome, r.diff"
            " from mutation_specs m join work_results r using (job_id)"
            " order by m.module_path, m.start_pos_row"
        ).fetchall()
    killed: Counter[str] = Counter()
    total: Counter[str] = Counter()
    lines: list[str] = []
    for module, operator, row, outcome, diff in rows:
        total[module] += 1
        if "SURVIVED" in str(outcome).upper():
            changed = [
                line
                for line in (diff or "").splitlines()
                if line[:1] in "+-" and line[:3] not in ("+++", "---")
            ]
            lines += [
                f"{module}:{row} {operator.removeprefix('core/')}",
                *(f"    {c}" for c in changed),
            ]
        else:
            killed[module] += 1
    head = ["| module | mutants | killed |", "| --- | --- | --- |"]
    head += [f"| {m} | {total[m]} | {killed[m]} |" for m in sorted(total)]
    everything, dead = sum(total.values()), sum(killed.values())
    head.append(f"| all | {everything} | {dead} ({dead / max(everything, 1):.1%}) |")
    return "\n".join([*head, "", "Survivors:", *lines])


if __name__ == "__main__":
    sys.exit(main())
