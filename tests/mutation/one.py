"""One wrong version, and the tests that run what is wrong in it, in a forked process.

The process that forks has the libraries of others loaded and nothing of ours, so that a mutant costs
an import of our own modules and the tests up to the first that fails, not the start of an
interpreter with two solvers.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import os
import signal
import sys
import time
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

LIBRARIES = (
    "astral.sun",
    "click",
    "cvc5",
    "hypothesis.strategies",
    "lark",
    "multiprocessing.connection",
    "networkx",
    "pytest",
    "rich.console",
    "z3",
    "zoneinfo",
)
"""What is loaded once."""

SPARE_S = 15.0
"""A test that takes so much longer than eight times its own time counts as one that fails."""

MEMORY = 6 << 30


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a mutant: ``noticed`` by a test, ``late``, or ``survived``."""

    what: str
    by: str
    tests: int
    seconds: float


def preload() -> None:
    """Loads the libraries."""
    for name in LIBRARIES:
        importlib.import_module(name)


def lines_of(source: str, row: int) -> range:
    """The lines of the innermost statement at a line; of a compound one, its head alone."""
    best: range | None = None
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.match_case):
            first, end = node.pattern.lineno, None
        elif isinstance(node, ast.stmt | ast.ExceptHandler):
            first, end = node.lineno, node.end_lineno
        else:
            continue
        body: Sequence[ast.stmt] = getattr(node, "body", ())
        last = max(first, body[0].lineno - 1 if body else end or first)
        if first <= row <= last and (best is None or last - first < len(best)):
            best = range(first, last + 1)
    return best or range(row, row + 1)


def function_of(source: str, row: int) -> range:
    """The lines of the innermost function at a line, or of the whole module."""
    best = range(1, source.count("\n") + 2)
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            last = node.end_lineno or node.lineno
            if node.lineno <= row <= last and last - node.lineno < len(best):
                best = range(node.lineno, last + 1)
    return best


def tests_for(
    reach: dict[str, Any], module: str, source: str, row: int, budget_s: float
) -> list[tuple[str, float]]:
    """The tests that run a line (else its function, else the module), the quickest first.

    Shape: as many as fit into the budget of seconds; always at least one in ten of all.
    """
    lines: dict[str, list[int]] = reach["lines"].get(module, {})
    tests: list[list[Any]] = reach["tests"]
    whole = range(1, source.count("\n") + 2)
    for span in (lines_of(source, row), function_of(source, row), whole):
        hit = sorted({t for line in span for t in lines.get(str(line), ())})
        if hit:
            break
    hit = hit or list(range(len(tests)))
    chosen: list[tuple[str, float]] = []
    spent = 0.0
    for test, seconds in sorted((tests[t] for t in hit), key=lambda found: found[1]):
        spent += seconds
        if spent > budget_s and chosen:
            break
        chosen.append((test, seconds))
    return chosen


@contextlib.contextmanager
def written(path: Path, text: str) -> Iterator[None]:
    """The file with another text; afterwards as before, to the second."""
    before = path.read_bytes()
    stat = path.stat()
    path.write_text(text, encoding="utf-8")
    try:
        yield
    finally:
        path.write_bytes(before)
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))


def run(
    folder: Path, tests: Sequence[tuple[str, float]], log: Path, also: Sequence[str] = ()
) -> Outcome:
    """Runs tests of a folder in a process of its own, up to the first that fails.

    All tests of the files ``also`` come first.
    """
    begin = time.monotonic()
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.setsid()
            code = in_child(folder, tests, log, also)
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            os._exit(code)
    _, status = os.waitpid(child, 0)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    text = log.read_text(encoding="utf-8", errors="replace").splitlines()
    at = next((line[3:] for line in reversed(text) if line.startswith("at ")), "")
    if os.WIFSIGNALED(status):
        what = "late" if os.WTERMSIG(status) == signal.SIGALRM else "noticed"
    else:
        what = {0: "survived", 1: "noticed", 2: "noticed"}.get(os.WEXITSTATUS(status), "strange")
        assert what != "strange", f"pytest could not run: see {log}"
    return Outcome(what, at, len(tests), round(time.monotonic() - begin, 2))


def in_child(
    folder: Path, tests: Sequence[tuple[str, float]], log: Path, also: Sequence[str]
) -> int:
    """Runs the tests here; the exit code of pytest."""
    import resource

    out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
    os.dup2(out, 1)
    os.dup2(out, 2)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    os.chdir(folder)
    here = Path(__file__).parents[2]
    sys.path[:] = [str(folder), *(p for p in sys.path if p and Path(p).resolve() != here)]
    for name in [n for n in sys.modules if n.partition(".")[0] == "tests"]:
        del sys.modules[name]
    sys.dont_write_bytecode = True
    os.environ["PYTHONPATH"] = str(folder)
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    import pytest

    order = {test: at for at, (test, _) in enumerate(tests)}
    seconds = dict(tests)

    def of_also(test: str) -> bool:
        return test.partition("::")[0] in also

    class Chosen:
        """Keeps the chosen tests, in their order, each with a limit."""

        @pytest.hookimpl(trylast=True)
        def pytest_collection_modifyitems(self, items: list[Any]) -> None:
            items[:] = sorted(
                (i for i in items if i.nodeid in order or of_also(i.nodeid)),
                key=lambda i: order.get(i.nodeid, -1),
            )

        def pytest_runtest_logstart(self, nodeid: str) -> None:
            print("\nat", nodeid, flush=True)
            signal.setitimer(signal.ITIMER_REAL, SPARE_S + 8 * seconds.get(nodeid, 1.0))

        def pytest_runtest_logfinish(self) -> None:
            signal.setitimer(signal.ITIMER_REAL, 0)

    files = list(dict.fromkeys([*also, *(test.partition("::")[0] for test, _ in tests)]))
    signal.setitimer(signal.ITIMER_REAL, 60)
    given = ["-x", "-q", "-s", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header"]
    given += ["-W", "ignore::pytest.PytestAssertRewriteWarning", *files]
    return int(pytest.main([*given, "--tb=short", "--color=no"], plugins=[Chosen()]))
