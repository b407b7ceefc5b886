"""The library of standard requirements that comes with the tool: ``specs/standard/*.dusk``."""

from __future__ import annotations

import functools
from pathlib import Path

from verifier.language import tree
from verifier.language.parser import parse
from verifier.source import SourceFile


def _folders() -> tuple[Path, ...]:
    """Where it may lie: in an installed package, or in a checkout."""
    here = Path(__file__).resolve()
    return (
        here.parents[1] / "_data" / "specs" / "standard",
        here.parents[2] / "specs" / "standard",
    )


def library_files() -> tuple[SourceFile, ...]:
    """The files of the library, ordered by name.

    Raises: FileNotFoundError if the installation lacks them.
    """
    for folder in _folders():
        paths = sorted(folder.glob("*.dusk"))
        if paths:
            return tuple(
                SourceFile(f"standard/{path.name}", path.read_text(encoding="utf-8"))
                for path in paths
            )
    raise FileNotFoundError("the installation lacks its library of standard requirements")


def library_path(name: str) -> Path:
    """Where a file of the library lies, by its shown name ``standard/….dusk``.

    Raises: FileNotFoundError if there is none of that name.
    """
    for folder in _folders():
        path = folder / Path(name).name
        if path.is_file():
            return path
    raise FileNotFoundError(f"the library of standard requirements has no {name}")


@functools.cache
def library() -> tuple[tree.Standard, ...]:
    """The standard requirements of the library, in the order of its files.

    Raises: AssertionError if a file of it cannot be read: it comes with the tool.
    """
    found: list[tree.Standard] = []
    for file in library_files():
        whole, mistakes = parse(file)
        if mistakes:
            raise AssertionError(f"library: {file.name}: {mistakes[0].message}")
        for declaration in whole.declarations:
            if not isinstance(declaration, tree.Standard):
                raise AssertionError(f"library: {file.name} declares something else")
            found.append(declaration)
    return tuple(found)
