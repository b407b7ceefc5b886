"""What a challenge is graded by, packed so that it is not read by accident.

Packed means compressed and written in letters (zlib, base64): nobody reads it in passing, whoever
wants to can unpack it. It is no secret and protects no examination.
"""

from __future__ import annotations

import base64
import binascii
import json
import textwrap
import zlib
from collections.abc import Mapping

from verifier.teach.lesson import Hidden, Variant

FIRST_LINE = "duskproof challenge, 1"
LARGEST = 1_000_000
"""Characters of what is unpacked."""


class NotPacked(Exception):
    """A text is no packed challenge; ``args[0]`` says why."""


def hidden_of(files: Mapping[str, str]) -> Hidden:
    """What the plain files of a challenge say. Raises: NotPacked.

    ``hidden.dusk`` are requirements that the learner's rules have to keep; or ``keeps-NAME.dusk``
    and ``breaks-NAME.dusk`` are rules that the learner's requirements have to tell apart, with the
    words about them in a comment on their first line. ``solution.dusk`` passes.
    """
    solution = files.get("solution.dusk", "")
    if not solution.strip():
        raise NotPacked("`solution.dusk` is missing: a job that passes")
    requirements = files.get("hidden.dusk", "")
    variants = tuple(
        Variant(name.removesuffix(".dusk"), name.startswith("keeps-"), _words(text), text)
        for name, text in sorted(files.items(), key=lambda each: (each[0][0] != "k", each[0]))
        if name.startswith(("keeps-", "breaks-"))
    )
    if bool(requirements.strip()) is bool(variants):
        raise NotPacked(
            "write either `hidden.dusk` (requirements) or `keeps-….dusk` and `breaks-….dusk` (rules)"
        )
    if variants and len({variant.keeps for variant in variants}) < 2:
        raise NotPacked("write a `keeps-….dusk` and a `breaks-….dusk` at least")
    return Hidden(requirements, variants, solution)


def _words(text: str) -> str:
    first = text.lstrip().split("\n", 1)[0]
    return first.removeprefix("#").strip() if first.startswith("#") else ""


def packed(hidden: Hidden) -> str:
    """The packed text."""
    variants = [[v.name, v.keeps, v.words, v.rules] for v in hidden.variants]
    plain = json.dumps([hidden.requirements, variants, hidden.solution], ensure_ascii=False)
    letters = base64.b64encode(zlib.compress(plain.encode("utf-8"), 9)).decode("ascii")
    return "\n".join([FIRST_LINE, *textwrap.wrap(letters, 100)]) + "\n"


def unpacked(text: str) -> Hidden:
    """What a packed text holds. Raises: NotPacked."""
    first, _, letters = text.partition("\n")
    if first.strip() != FIRST_LINE:
        raise NotPacked(f"its first line is not `{FIRST_LINE}`")
    try:
        data = base64.b64decode("".join(letters.split()), validate=True)
        reader = zlib.decompressobj()
        plain = reader.decompress(data, LARGEST)
        if not reader.eof:
            raise NotPacked("it is cut short, or far too large")
        requirements, variants, solution = json.loads(plain.decode("utf-8"))
        return Hidden(
            _text(requirements),
            tuple(Variant(_text(n), bool(k), _text(w), _text(r)) for n, k, w, r in variants),
            _text(solution),
        )
    except (binascii.Error, zlib.error, ValueError, TypeError, RecursionError) as wrong:
        raise NotPacked("it was changed, or not packed by Duskproof") from wrong


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value
