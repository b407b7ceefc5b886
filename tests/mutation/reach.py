"""Which test runs which line of the modules under mutation, and how long each test takes.

A plugin of pytest: ``python -m tests.mutation.reach STORE MODULES -- ARGUMENTS OF PYTEST`` writes
a file of JSON: for each test its seconds, for each module and line the tests that run it.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest


class Reach:
    """Counts, around each test, the lines that it runs."""

    def __init__(self, modules: list[str]) -> None:
        """Begins to watch, before anything of ours is imported."""
        self.coverage: Any = import_module("coverage").Coverage(
            data_file=None, include=[str(Path(m).resolve()) for m in modules], config_file=False
        )
        self.modules = modules
        self.seconds: dict[str, float] = {}
        self.passed: set[str] = set()
        self.coverage.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Lines from here on belong to this test."""
        self.coverage.switch_context(item.nodeid)
        begin = time.monotonic()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = round(time.monotonic() - begin, 4)
            self.coverage.switch_context("")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Only a test that passes can notice anything."""
        if report.when == "call" and report.passed:
            self.passed.add(report.nodeid)

    def write(self, store: Path) -> None:
        """Writes what was found."""
        self.coverage.stop()
        data = self.coverage.get_data()
        tests = [t for t in self.seconds if t in self.passed]
        number = {test: at for at, test in enumerate(tests)}
        lines: dict[str, dict[int, list[int]]] = {}
        for module in self.modules:
            found = data.contexts_by_lineno(str(Path(module).resolve()))
            lines[module] = {
                line: sorted(number[c] for c in contexts if c in number)
                for line, contexts in sorted(found.items())
            }
        store.write_text(
            json.dumps({"tests": [[t, self.seconds[t]] for t in tests], "lines": lines}),
            encoding="utf-8",
        )


def main(arguments: list[str]) -> int:
    """Runs the tests under watch."""
    at = arguments.index("--")
    store, *modules = arguments[:at]
    reach = Reach(modules)
    code = pytest.main(["-q", "-p", "no:cacheprovider", *arguments[at + 1 :]], plugins=[reach])
    reach.write(Path(store))
    return int(code)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
