"""All checks of the house, in one command: ``python -m tests.check [--tests]``.

Format, lint, types, import contracts; with ``--tests`` the tests too. Each check runs even if
an earlier one failed; the exit code is 0 only if all passed. ``.ci/run`` runs the same.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

_BIN = Path(sys.executable).parent

CHECKS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("format", (sys.executable, "-m", "ruff", "format", "--check", ".")),
    ("lint", (sys.executable, "-m", "ruff", "check", ".")),
    ("types", (sys.executable, "-m", "mypy")),
    ("imports", (str(_BIN / "lint-imports"), "--no-cache")),
)
TESTS = ("tests", (sys.executable, "-m", "pytest", "-q", "-n", "auto"))


def run(checks: tuple[tuple[str, tuple[str, ...]], ...]) -> list[str]:
    """The names of the checks that failed; what each has to say goes to the terminal."""
    failed = []
    for name, command in checks:
        print(
            f"== {name}: {' '.join(command[1:] if command[0] == sys.executable else command)}",
            flush=True,
        )
        began = time.monotonic()
        code = subprocess.run(command, cwd=ROOT, check=False).returncode
        print(
            f"== {name}: {'ok' if code == 0 else 'FAILED'} ({time.monotonic() - began:.1f} s)",
            flush=True,
        )
        if code != 0:
            failed.append(name)
    return failed


def main(arguments: list[str]) -> int:
    """0 if all checks pass, 1 if one fails, 2 for a word that is not understood."""
    unknown = [word for word in arguments if word != "--tests"]
    if unknown:
        print(
            f"unknown: {' '.join(unknown)}. Usage: python -m tests.check [--tests]", file=sys.stderr
        )
        return 2
    failed = run((*CHECKS, TESTS) if "--tests" in arguments else CHECKS)
    print("All checks passed." if not failed else f"Failed: {', '.join(failed)}.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
