"""Profiles of the random tests: a quick one by default, a long one on request.

``DUSKPROOF_PROFILE=long pytest`` runs more of them. No test has a deadline: speed lives in
``tests/benchmarks``. Nothing is kept from one run to the next, unless a test says so.
"""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("quick", deadline=None)
settings.register_profile("long", deadline=None, max_examples=2_000)
os.environ["DUSKPROOF_CACHE"] = "off"
settings.load_profile(os.environ.get("DUSKPROOF_PROFILE", "quick"))
