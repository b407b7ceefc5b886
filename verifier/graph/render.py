"""The guarded-transition graph as text, DOT and Mermaid, in the contract's words.

What never happens is marked with its reason, dashed lines beside the words: places that nothing
leads to, ways that cannot be taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from verifier.graph.build import Node, places_of
from verifier.graph.dead import Dead
from verifier.graph.escapes import dot_quoted, mermaid_quoted
from verifier.graph.flow import ENDLESS, IDLE, Place
from verifier.graph.rows import Row, guard_words, marks_of, place_name, rows_of
from verifier.graph.transitions import Transition, on_words
from verifier.model.job import Rule
from verifier.model.words import policy_words, statement_words

if TYPE_CHECKING:
    import networkx

ARROW = "→"


def render_text(graph: networkx.MultiDiGraph[Node], dead: Dead | None = None) -> str:
    """The graph as lines to read: each rule, its places, and the transitions from each."""
    dead = dead or Dead()
    lines: list[str] = []
    for rule in _rules(graph):
        if lines:
            lines.append("")
        never = "   (never fires)" if rule.name in dead.rules else ""
        lines.append(f"rule {rule.name} ({policy_words(rule.policy)}){never}")
        rows = rows_of(graph, rule.name, dead)
        for place in _places(graph, rule):
            lines.append("  " + "   ".join(_place_parts(place, dead)))
            lines.extend(f"     {row_words(row)}" for row in rows if row.source == place.number)
    return "\n".join(lines) + "\n" if lines else ""


def row_words(row: Row) -> str:
    """A way on one line.

    Shape: ``EVENT [GUARD] / EFFECTS → PLACE (what is to be said)``.
    """
    parts = [row.when]
    if row.guard:
        parts.append(f"[{row.guard}]")
    if row.does:
        parts.append("/ " + ", ".join(row.does))
    parts.append(f"{ARROW} {place_name(row.target)}")
    if row.told:
        parts.append(f"({', '.join(row.told)})")
    return " ".join(parts)


def transition_words(transition: Transition) -> str:
    """A transition on one line, as :func:`row_words` has it."""
    does = tuple(statement_words(statement) for statement in transition.effects)
    return row_words(
        Row(
            rule=transition.rule,
            number=0,
            source=transition.source,
            when=on_words(transition.on),
            guard=guard_words(transition),
            does=does,
            target=transition.target,
            marks=marks_of(transition),
            never="",
        )
    )


def _rules(graph: networkx.MultiDiGraph[Node]) -> tuple[Rule, ...]:
    rules: dict[str, Rule] = graph.graph["rules"]
    return tuple(rules.values())


def _places(graph: networkx.MultiDiGraph[Node], rule: Rule) -> tuple[Place, ...]:
    return tuple(place for place in places_of(graph) if place.rule == rule.name)


def _place_parts(place: Place, dead: Dead) -> list[str]:
    name = place_name(place.number)
    words = [name] if place.number == IDLE else [f"{name}  {place.words}"]
    never = dead.places.get((place.rule, place.number))
    return [*words, *([f"({never})"] if never else [])]


def _label(row: Row) -> str:
    lines = [row.when]
    if row.guard:
        lines.append(f"[{row.guard}]")
    lines.extend(f"/ {words}" for words in row.does)
    if row.told:
        lines.append(f"({', '.join(row.told)})")
    return "\n".join(lines)


def _place_label(place: Place, dead: Dead) -> str:
    never = dead.places.get((place.rule, place.number))
    return f"{place.words}\n({never})" if never else place.words


def _title(rule: Rule, dead: Dead) -> str:
    never = "\n(never fires)" if rule.name in dead.rules else ""
    return f"{rule.name} ({policy_words(rule.policy)}){never}"


# ---------------------------------------------------------------- DOT


def render_dot(graph: networkx.MultiDiGraph[Node], dead: Dead | None = None) -> str:
    """The graph in the DOT language, one cluster for each rule."""
    dead = dead or Dead()
    lines = [
        f"digraph {dot_quoted(str(graph.graph['name']))} {{",
        "  rankdir=LR;",
        '  node [shape=box, style=rounded, fontname="sans-serif"];',
        '  edge [fontname="sans-serif", fontsize=10];',
    ]
    for position, rule in enumerate(_rules(graph)):
        lines.append(f"  subgraph cluster_{position} {{")
        lines.append(f"    label={dot_quoted(_title(rule, dead))};")
        for place in _places(graph, rule):
            shape = ", shape=circle" if place.number == IDLE else ""
            never = (rule.name, place.number) in dead.places
            style = ', style="rounded,dashed"' if never else ""
            label = dot_quoted(_place_label(place, dead))
            lines.append(f"    {_dot_node(rule.name, place.number)} [label={label}{shape}{style}];")
        for row in rows_of(graph, rule.name, dead):
            source, target = _dot_node(row.rule, row.source), _dot_node(row.rule, row.target)
            style = ", style=dashed, arrowhead=empty" if row.never else ""
            lines.append(f"    {source} -> {target} [label={dot_quoted(_label(row))}{style}];")
        lines.append("  }")
    return "\n".join([*lines, "}"]) + "\n"


def _dot_node(rule: str, number: int) -> str:
    return dot_quoted(f"{rule} {place_name(number)}")


# ---------------------------------------------------------------- Mermaid


def render_mermaid(graph: networkx.MultiDiGraph[Node], dead: Dead | None = None) -> str:
    """The graph as a Mermaid flow chart, one subgraph for each rule."""
    dead = dead or Dead()
    lines = ["flowchart LR"]
    hidden = []
    for position, rule in enumerate(_rules(graph)):
        lines.append(f"  subgraph r{position}[{mermaid_quoted(_title(rule, dead))}]")
        for place in _places(graph, rule):
            node = _mermaid_node(position, place.number)
            left, right = ("([", "])") if place.number == IDLE else ("[", "]")
            lines.append(f"    {node}{left}{mermaid_quoted(_place_label(place, dead))}{right}")
            if (rule.name, place.number) in dead.places:
                hidden.append(node)
        for row in rows_of(graph, rule.name, dead):
            source = _mermaid_node(position, row.source)
            target = _mermaid_node(position, row.target)
            arrow = "-.->" if row.never else "-->"
            lines.append(f"    {source} {arrow}|{mermaid_quoted(_label(row))}| {target}")
        lines.append("  end")
    if hidden:
        lines.append("  classDef never stroke-dasharray: 4 3")
        lines.append(f"  class {','.join(hidden)} never")
    return "\n".join(lines) + "\n"


def _mermaid_node(rule: int, number: int) -> str:
    return f"r{rule}_{'endless' if number == ENDLESS else number}"
