"""``python -m tests.fuzz.long SECONDS [SEED]``: edits of good jobs, one after another.

Of every fiftieth that is a job the requirements are judged too.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from random import Random

from tests.fuzz.edits import edited
from tests.fuzz.looked_at import judge, look_at


def main() -> int:
    """How many texts were looked at, the slowest of them, and what failed."""
    seconds, seed = float(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    until = time.monotonic() + seconds
    outcomes: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    failed: list[int] = []
    slowest = (0.0, seed)
    while time.monotonic() < until:
        text = edited(Random(seed))
        begun, took = time.process_time(), 0.0
        try:
            outcome = look_at(text)
            took = time.process_time() - begun
            outcomes[outcome] += 1
            if outcome == "job" and outcomes["job"] % 50 == 0:
                verdicts.update(judge(text))
        except Exception as failure:
            failed.append(seed)
            print(f"seed {seed}: {type(failure).__name__}: {str(failure)[:300]}", flush=True)
        slowest = max(slowest, (took, seed))
        seed += 1
    print(f"{sum(outcomes.values()) + len(failed)} texts: {dict(outcomes)}, failed: {failed}")
    print(f"verdicts: {dict(verdicts)}")
    print(f"slowest: {slowest[0]:.2f} s (seed {slowest[1]})")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
