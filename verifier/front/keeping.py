"""Where answers are kept from one run to the next, and what is said if they cannot be."""

from __future__ import annotations

import os
import random
from pathlib import Path

from verifier.pipeline import Keeping, Result

VARIABLE = "DUSKPROOF_CACHE"
"""The environment's word: a folder, or ``off``."""

NOTHING = Keeping(None, None)


def keeping(folder: Path | None = None, recheck: bool = False) -> Keeping:
    """What is kept where: in the folder that was given, else the environment's, else the user's.

    The key of the seals lies in the user's own folder, whatever folder the answers are in.
    """
    said = os.environ.get(VARIABLE, "")
    if folder is None and said == "off":
        return NOTHING
    from platformdirs import user_cache_path, user_state_path

    if folder is None:
        folder = Path(said) if said else user_cache_path("duskproof", appauthor=False)
    own = user_state_path("duskproof", appauthor=False)
    return Keeping(folder, own, 1.0 if recheck else 0.0, random.random())


def warning(result: Result) -> str:
    """What is wrong with the cache, as a line for people; empty if nothing is."""
    if result.cache_problem:
        return f"warning: the cache cannot be used as it should: {result.cache_problem}"
    if result.effort is not None and result.effort.refused:
        return (
            "warning: the solvers refused a certificate that was kept; nothing that was kept was "
            "believed, and all was proved afresh"
        )
    return ""
