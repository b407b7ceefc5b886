"""The guarded-transition graph as text, DOT and Mermaid, in the contract's words.

Places that no way leads to are marked as unreachable; transitions through a branch that a finding
or a proof calls dead are marked as dead.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from verifier.graph.build import Node, places_of, transitions_in, unreachable_places
from verifier.graph.flow import ENDLESS, IDLE, Place
from verifier.graph.transitions import Transition, on_words
from verifier.model.job import Rule
from verifier.model.words import condition_words, policy_words, statement_words
from verifier.source import Span

if TYPE_CHECKING:
    import networkx

ARROW = "→"


def render_text(graph: networkx.MultiDiGraph[Node], dead: Iterable[Span] = ()) -> str:
    """The graph as lines to read: each rule, its places, and the transitions from each.

    ``dead`` are spans (of branches, say) that findings or proofs call dead; transitions
    through them are marked.
    """
    marks = tuple(dead)
    unreachable = unreachable_places(graph)
    rules: dict[str, Rule] = graph.graph["rules"]
    lines: list[str] = []
    for rule in rules.values():
        if lines:
            lines.append("")
        lines.append(f"rule {rule.name} ({policy_words(rule.policy)})")
        for place in (p for p in places_of(graph) if p.rule == rule.name):
            mark = "   (unreachable)" if place in unreachable else ""
            words = "" if place.number == IDLE else f"  {place.words}"
            lines.append(f"  {_short(place)}{words}{mark}")
            for transition in transitions_in(graph):
                if (transition.rule, transition.source) == (rule.name, place.number):
                    lines.append(f"     {transition_words(transition, marks)}")
    return "\n".join(lines) + "\n" if lines else ""


def transition_words(transition: Transition, dead: tuple[Span, ...] = ()) -> str:
    """A transition on one line.

    Shape: ``EVENT [GUARD] / EFFECTS → PLACE (marks)``.
    """
    parts = [on_words(transition.on)]
    if transition.guard:
        parts.append(f"[{guard_words(transition)}]")
    if transition.effects:
        parts.append("/ " + ", ".join(statement_words(s) for s in transition.effects))
    parts.append(f"{ARROW} {_short_number(transition.target)}")
    marks = _marks(transition, dead)
    if marks:
        parts.append(f"({', '.join(marks)})")
    return " ".join(parts)


def guard_words(transition: Transition) -> str:
    """The guard of a transition as one condition, without the outer brackets."""
    texts = [condition_words(c) for c in transition.guard]
    if len(texts) == 1:
        return texts[0]
    return " and ".join(f"({text})" if _is_joined(text) else text for text in texts)


def _is_joined(text: str) -> bool:
    return " or " in text or " and " in text or " implies " in text


def _marks(transition: Transition, dead: tuple[Span, ...]) -> list[str]:
    marks = []
    if any(span in dead for span in transition.spans):
        marks.append("dead")
    if transition.outcome in ("ended", "cancels itself", "endless candidate"):
        words = {"ended": "end run"}
        marks.append(words.get(transition.outcome, transition.outcome))
    if transition.summarised:
        marks.append("summarised")
    return marks


def _short(place: Place) -> str:
    return _short_number(place.number)


def _short_number(number: int) -> str:
    return {IDLE: "idle", ENDLESS: "endless"}.get(number, f"#{number}")


# ---------------------------------------------------------------- DOT


def render_dot(graph: networkx.MultiDiGraph[Node], dead: Iterable[Span] = ()) -> str:
    """The graph in the DOT language, one cluster for each rule."""
    marks = tuple(dead)
    unreachable = unreachable_places(graph)
    rules: dict[str, Rule] = graph.graph["rules"]
    lines = [
        f"digraph {_dot_quoted(str(graph.graph['name']))} {{",
        "  rankdir=LR;",
        '  node [shape=box, style=rounded, fontname="sans-serif"];',
        '  edge [fontname="sans-serif", fontsize=10];',
    ]
    for position, rule in enumerate(rules.values()):
        lines.append(f"  subgraph cluster_{position} {{")
        lines.append(f"    label={_dot_quoted(f'{rule.name} ({policy_words(rule.policy)})')};")
        for place in (p for p in places_of(graph) if p.rule == rule.name):
            shape = ", shape=circle" if place.number == IDLE else ""
            style = ', style="rounded,dashed"' if place in unreachable else ""
            label = _dot_quoted(place.words)
            lines.append(
                f"    {_dot_node(place.rule, place.number)} [label={label}{shape}{style}];"
            )
        for transition in transitions_in(graph):
            if transition.rule == rule.name:
                lines.append(f"    {_dot_edge(transition, marks)}")
        lines.append("  }")
    return "\n".join([*lines, "}"]) + "\n"


def _dot_edge(transition: Transition, dead: tuple[Span, ...]) -> str:
    source = _dot_node(transition.rule, transition.source)
    target = _dot_node(transition.rule, transition.target)
    label = _dot_quoted("\n".join(_label_lines(transition, dead)))
    style = ", style=dashed" if "dead" in _marks(transition, dead) else ""
    return f"{source} -> {target} [label={label}{style}];"


def _dot_node(rule: str, number: int) -> str:
    return _dot_quoted(f"{rule} {_short_number(number)}")


def _dot_quoted(text: str) -> str:
    """A DOT string; a newline in ``text`` becomes a line break of a label."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _label_lines(transition: Transition, dead: tuple[Span, ...]) -> list[str]:
    lines = [on_words(transition.on)]
    if transition.guard:
        lines.append(f"[{guard_words(transition)}]")
    lines.extend(f"/ {statement_words(statement)}" for statement in transition.effects)
    marks = _marks(transition, dead)
    if marks:
        lines.append(f"({', '.join(marks)})")
    return lines


# ---------------------------------------------------------------- Mermaid


def render_mermaid(graph: networkx.MultiDiGraph[Node], dead: Iterable[Span] = ()) -> str:
    """The graph as a Mermaid flow chart, one subgraph for each rule."""
    marks = tuple(dead)
    unreachable = unreachable_places(graph)
    rules: dict[str, Rule] = graph.graph["rules"]
    order = {name: position for position, name in enumerate(rules)}
    lines = ["flowchart LR"]
    hidden = []
    for rule in rules.values():
        title = _mermaid_quoted(f"{rule.name} ({policy_words(rule.policy)})")
        lines.append(f"  subgraph r{order[rule.name]}[{title}]")
        for place in (p for p in places_of(graph) if p.rule == rule.name):
            node = _mermaid_node(order, place.rule, place.number)
            left, right = ("([", "])") if place.number == IDLE else ("[", "]")
            lines.append(f"    {node}{left}{_mermaid_quoted(place.words)}{right}")
            if place in unreachable:
                hidden.append(node)
        for transition in transitions_in(graph):
            if transition.rule == rule.name:
                source = _mermaid_node(order, rule.name, transition.source)
                target = _mermaid_node(order, rule.name, transition.target)
                label = _mermaid_quoted("\n".join(_label_lines(transition, marks)))
                arrow = "-.->" if "dead" in _marks(transition, marks) else "-->"
                lines.append(f"    {source} {arrow}|{label}| {target}")
        lines.append("  end")
    if hidden:
        lines.append("  classDef unreachable stroke-dasharray: 4 3")
        lines.append(f"  class {','.join(hidden)} unreachable")
    return "\n".join(lines) + "\n"


def _mermaid_node(order: dict[str, int], rule: str, number: int) -> str:
    return f"r{order[rule]}_{'endless' if number == ENDLESS else number}"


def _mermaid_quoted(text: str) -> str:
    """A Mermaid string: what HTML or Mermaid would read as its own becomes an entity."""
    return '"' + "".join(_MERMAID_ENTITIES.get(sign, sign) for sign in text) + '"'


_MERMAID_ENTITIES = {
    "#": "#35;",
    "&": "#amp;",
    '"': "#quot;",
    "<": "#lt;",
    ">": "#gt;",
    "`": "#96;",
    "\n": "<br/>",
}
