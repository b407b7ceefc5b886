"""``python -m tests.fuzz.guided -max_total_time=SECONDS [FOLDER]``: fuzzing guided by coverage.

Needs atheris (``pip install atheris``; Linux and macOS). The options are libFuzzer's; a FOLDER
keeps what was found from one run to the next. It starts from the project's own jobs.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.fuzz.edits import good_texts


def main() -> None:
    """Runs until its time is over or something fails."""
    import atheris  # type: ignore[import-untyped,import-not-found,unused-ignore]

    with atheris.instrument_imports(include=["verifier"]):
        from tests.fuzz.looked_at import look_at

    def one_input(data: bytes) -> None:
        look_at(data.decode("utf-8", errors="replace"))

    seeds = Path(tempfile.mkdtemp(prefix="seeds-"))
    for number, text in enumerate(good_texts()):
        (seeds / f"{number:03d}").write_text(text, encoding="utf-8")
    atheris.Setup([*sys.argv, str(seeds)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
