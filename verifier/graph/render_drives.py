"""The who-drives-what graph as text, DOT and Mermaid: from the left to the right."""

from __future__ import annotations

from verifier.graph.build import Drive
from verifier.graph.escapes import dot_quoted, mermaid_quoted
from verifier.graph.rows import Drives, Thing

INTO: tuple[Drive, ...] = ("triggers", "starts", "ends", "guards", "is read by")
"""How a thing drives a rule, in the order of telling."""

PASSIVE: dict[Drive, str] = {
    "triggers": "triggered by",
    "starts": "triggered by the start of",
    "ends": "triggered by the end of",
    "guards": "guarded by",
    "is read by": "reads",
}
OUT_OF: tuple[Drive, ...] = ("sets", "fades", "cancels")
"""What a rule does to what it drives."""

DOT_SHAPES = {
    "input": "shape=box",
    "shared": "shape=ellipse",
    "door": "shape=house",
    "room": "shape=house",
    "flag": "shape=note",
    "output": "shape=box, peripheries=2",
    "rule": "shape=box, style=rounded",
}
DOT_LINES: dict[Drive, str] = {
    "triggers": "",
    "starts": "",
    "ends": "",
    "guards": ", style=dashed",
    "is read by": ", style=dotted",
    "sets": ", style=bold",
    "fades": ", style=bold, arrowhead=vee",
    "cancels": ", style=bold, arrowhead=tee",
}
MERMAID_SHAPES = {
    "input": ("[", "]"),
    "shared": ("([", "])"),
    "door": ("[/", "\\]"),
    "room": ("[/", "\\]"),
    "flag": ("{{", "}}"),
    "output": ("[[", "]]"),
    "rule": ("(", ")"),
}
MERMAID_LINES: dict[Drive, str] = {
    "guards": "-.->",
    "is read by": "-.->",
    "sets": "==>",
    "fades": "==>",
    "cancels": "--x",
}


def drives_text(drives: Drives) -> str:
    """Who drives what, as lines to read: what each rule hears, reads and does."""
    lines: list[str] = []
    for thing in drives.things:
        if thing.kind not in ("rule", "door", "room"):
            continue
        never = "   (never fires)" if thing.never else ""
        block = [f"{thing.kind} {thing.name}{never}"]
        for how in INTO:
            names = [r.source.name for r in drives.rows if (r.target, r.how) == (thing, how)]
            if names:
                words = PASSIVE[how] if thing.kind == "rule" else "entered by"
                block.append(f"  {words}  {', '.join(names)}")
        for how in OUT_OF:
            names = [r.target.name for r in drives.rows if (r.source, r.how) == (thing, how)]
            if names:
                block.append(f"  {how}  {', '.join(names)}")
        lines.extend(["", *block] if lines else block)
    alone = [thing.name for thing in drives.alone]
    if alone:
        lines.extend([*([""] if lines else []), f"joined to nothing: {', '.join(alone)}"])
    return "\n".join(lines) + "\n" if lines else ""


def _label(thing: Thing) -> str:
    lines = [thing.name]
    if thing.label and thing.label != thing.name:
        lines.append(thing.label)
    if thing.kind in ("door", "room", "flag"):
        lines.append(f"({thing.kind})")
    if thing.never:
        lines.append("(never fires)")
    return "\n".join(lines)


def drives_dot(drives: Drives) -> str:
    """Who drives what in the DOT language; a line's form and its words say how."""
    lines = [
        f"digraph {dot_quoted(drives.name)} {{",
        "  rankdir=LR;",
        '  node [fontname="sans-serif"];',
        '  edge [fontname="sans-serif", fontsize=10];',
    ]
    for thing in drives.things:
        style = ', style="rounded,dashed"' if thing.never else ""
        lines.append(
            f"  {dot_quoted(thing.name)} "
            f"[label={dot_quoted(_label(thing))}, {DOT_SHAPES[thing.kind]}{style}];"
        )
    for row in drives.rows:
        words = f"{row.how}\n(never)" if row.never else row.how
        lines.append(
            f"  {dot_quoted(row.source.name)} -> {dot_quoted(row.target.name)} "
            f"[label={dot_quoted(words)}{DOT_LINES[row.how]}];"
        )
    return "\n".join([*lines, "}"]) + "\n"


def drives_mermaid(drives: Drives) -> str:
    """Who drives what as a Mermaid flow chart."""
    order = {thing.name: position for position, thing in enumerate(drives.things)}
    lines = ["flowchart LR"]
    for thing in drives.things:
        left, right = MERMAID_SHAPES[thing.kind]
        lines.append(f"  n{order[thing.name]}{left}{mermaid_quoted(_label(thing))}{right}")
    for row in drives.rows:
        words = f"{row.how}\n(never)" if row.never else row.how
        lines.append(
            f"  n{order[row.source.name]} {MERMAID_LINES.get(row.how, '-->')}"
            f"|{mermaid_quoted(words)}| n{order[row.target.name]}"
        )
    hidden = [f"n{order[thing.name]}" for thing in drives.things if thing.never]
    if hidden:
        lines.append("  classDef never stroke-dasharray: 4 3")
        lines.append(f"  class {','.join(hidden)} never")
    return "\n".join(lines) + "\n"
