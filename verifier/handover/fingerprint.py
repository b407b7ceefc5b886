"""Which text was judged, by which versions: so that a paper can be tied to a job and made again."""

from __future__ import annotations

import hashlib
import platform
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from verifier import __version__
from verifier.source import Sources


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """SHA-256 of each file's text and of all of them, and (name, version) of what judged them."""

    files: tuple[tuple[str, str], ...]
    whole: str
    versions: tuple[tuple[str, str], ...]


def fingerprint_of(sources: Sources) -> Fingerprint:
    """The fingerprint of a job's sources.

    The whole is the hash of the lines ``HASH  NAME``, as `sha256sum *.dusk | sha256sum` gives it
    for files whose lines end in a line feed.
    """
    files = tuple(
        (file.name, hashlib.sha256(file.text.encode("utf-8")).hexdigest())
        for file in sources.files
        if not file.name.startswith(("--", "("))  # what was asked or considered on the spot
    )
    lines = "".join(f"{digest}  {name}\n" for name, digest in files)
    return Fingerprint(files, hashlib.sha256(lines.encode("utf-8")).hexdigest(), _versions())


def _versions() -> tuple[tuple[str, str], ...]:
    found = [("Duskproof", __version__), ("Python", platform.python_version())]
    for name, package in (("z3", "z3-solver"), ("cvc5", "cvc5"), ("astral", "astral")):
        try:
            found.append((name, version(package)))
        except PackageNotFoundError:
            found.append((name, "not installed"))
    return tuple(found)
