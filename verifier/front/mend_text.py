"""Proposals as text and JSON: what is changed, the diff, what it does to the verdicts."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from verifier.explain.figures import counted, listed
from verifier.explain.mending import Mend
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.source import Sources

_INDENT = "    "


def mends_text(
    mends: tuple[Mend, ...],
    failing: tuple[str, ...],
    folder: str,
    only: tuple[str, ...],
    paint: Paint,
    width: int,
) -> str:
    """All proposals, numbered, by requirement; then how one of them is put into the rules."""  # fmt: skip
    blocks = []
    for name in failing:
        own = [(number, m) for number, m in enumerate(mends, 1) if m.requirement == name]
        also = [
            str(n) for n, m in enumerate(mends, 1) if name in m.mended and m.requirement != name
        ]
        lines = [f"{paint(shown(name), 'strong')} fails."]
        if own:
            many = counted(len(own), "proposal", "proposals")
            lines[0] += f" {many}, proved:"
        elif also:
            lines[0] += f" Proposal {listed(tuple(also), 'or')} mends it, too."
        else:
            lines.extend(
                textwrap.wrap(
                    "None of the changes that are tried was proved to mend it in the time given "
                    "(--time-limit): see `duskproof explain`.",
                    max(width, 24),
                    initial_indent=_INDENT,
                    subsequent_indent=_INDENT,
                )
            )
        for number, mend in own:
            lines.append("")
            lines.extend(_mend(number, mend, paint, width))
        blocks.append("\n".join(lines))
    if mends:
        asked = "".join(f" --only {name}" for name in only)
        blocks.append(
            "A proposal is proved for what was promised; whether it is what you want, read in the diff.\n"
            f"To put one into the rules: duskproof mend {folder}{asked} --apply N"
        )
    return "\n\n".join(blocks)


def _mend(number: int, mend: Mend, paint: Paint, width: int) -> list[str]:
    lines = []
    for k, applied in enumerate(mend.applied):
        head = f"{number}. " if k == 0 else "   and "
        lines.extend(
            textwrap.wrap(
                shown(f"{head}{applied.words}"),
                max(width, 24),
                initial_indent="  ",
                subsequent_indent="     ",
                break_on_hyphens=False,
            )
        )
    for line in mend.diff:
        style = "good" if line.startswith("+") else "bad" if line.startswith("-") else "quiet"
        lines.append(f"     {paint(shown(line), style)}".rstrip())
    said = [f"holds with it: {listed(mend.mended)}"] if mend.mended else []
    said.append(f"BREAKS: {listed(mend.broken)}" if mend.broken else "nothing that holds is broken")
    if mend.undecided:
        said.append(f"could not be judged: {listed(mend.undecided)}")
    lines.extend(
        textwrap.wrap(
            f"{'; '.join(said)}.", max(width, 24), initial_indent="     ", subsequent_indent="     "
        )
    )
    return lines


def mends_json(mends: tuple[Mend, ...], failing: tuple[str, ...], job: str, code: int) -> str:
    """The whole output of `mend --format json`."""
    from verifier import __version__

    whole: dict[str, Any] = {
        "tool": "duskproof",
        "version": __version__,
        "job": job,
        "exit": code,
        "failing": list(failing),
        "proposals": [
            {
                "number": number,
                "for": m.requirement,
                "changes": [a.words for a in m.applied],
                "diff": list(m.diff),
                "mended": list(m.mended),
                "broken": list(m.broken),
                "undecided": list(m.undecided),
            }
            for number, m in enumerate(mends, 1)
        ],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _changed(before: Sources, mend: Mend) -> tuple[str, ...]:
    """The files that a proposal changes."""
    files = zip(before.files, mend.after.files, strict=True)
    return tuple(new.name for old, new in files if old.text != new.text)


def applied_json(before: Sources, mend: Mend, job: str, number: int) -> str:
    """The output of `mend --apply N --format json`."""
    from verifier import __version__

    whole = {
        "tool": "duskproof",
        "version": __version__,
        "job": job,
        "exit": 0,
        "applied": number,
        "changes": [a.words for a in mend.applied],
        "files": list(_changed(before, mend)),
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)


def applied_text(before: Sources, mend: Mend, folder: str) -> str:
    """What is said when a proposal was written."""
    changed = _changed(before, mend)
    return (
        f"{listed(changed)} {'is' if len(changed) == 1 else 'are'} changed: "
        f"{'; '.join(a.words for a in mend.applied)}.\n"
        f"Prove the job again: duskproof prove {folder}"
    )
