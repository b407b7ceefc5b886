"""What the calendar of a site is worked out from, beside our own source: zone rules and sun.

Governments change what a clock shows, so the same site can have another calendar after an update
of the machine. What was proved of the old one says nothing of the new one.
"""

from __future__ import annotations

import hashlib
import zoneinfo
from functools import lru_cache
from pathlib import Path

from verifier.model.job import Site


def almanac_of(site: Site | None) -> str:
    """A digest of what the calendar of a site is worked out from; empty where none rules it."""
    if site is None or site.timezone is None:
        return ""
    return _digest(site.timezone)


@lru_cache(maxsize=8)
def _digest(timezone: str) -> str:
    """Once for a process, as the rules of a zone are read once."""
    from importlib.metadata import version  # slow to load, and most jobs have no site

    digest = hashlib.sha256(version("astral").encode())
    digest.update(_rules_of(timezone))
    return digest.hexdigest()


def _rules_of(timezone: str) -> bytes:
    """The file of a zone: the system's, else that of tzdata, as ``zoneinfo`` looks for it (PEP 615)."""
    for folder in zoneinfo.TZPATH:
        file = Path(folder, timezone)
        if file.is_file():
            return file.read_bytes()
    from importlib import resources

    return resources.files("tzdata").joinpath("zoneinfo", timezone).read_bytes()
