"""The graphs as a page: each picture with the table beside it that says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from verifier.front.drives_svg import drives_svg
from verifier.front.graph_svg import rule_svg
from verifier.front.page import text
from verifier.graph.build import Node, places_of
from verifier.graph.dead import Dead
from verifier.graph.rows import DriveRow, Drives, Row, Thing, place_words, rows_of
from verifier.model.job import Rule
from verifier.model.words import policy_words

if TYPE_CHECKING:
    import networkx

DRIVES_TITLE = "Who drives what"
RULES_TITLE = "The rules as pictures"

_READING = (
    "Each picture reads from the top: the rule rests at <em>idle</em> until an event of it "
    "happens; boxes are the places at which a run waits. The words between say when a way is "
    "taken (in bold, with its number in the table), if what is so, and what is then done. "
    "A dashed line with a cross, and the word “never”, mark what cannot happen."
)


def rules_body(
    graph: networkx.MultiDiGraph[Node], job: str, rules: tuple[Rule, ...], dead: Dead
) -> str:
    """The body of the page about the rules."""
    parts = [f"<h1>{RULES_TITLE}</h1>", f"<p>Job: {text(job)}</p>", f"<p>{_READING}</p>"]
    for rule in rules:
        parts.append(rule_section(graph, rule, dead))
    if not rules:
        parts.append("<p>The job has no rule.</p>")
    return "\n".join(parts)


def rule_section(graph: networkx.MultiDiGraph[Node], rule: Rule, dead: Dead) -> str:
    """One rule: heading, picture, table."""
    label = f"{rule.label}. " if rule.label and rule.label != rule.name else ""
    never = " It never fires." if rule.name in dead.rules else ""
    places = {place.number: place for place in places_of(graph) if place.rule == rule.name}
    said = {
        number: place_words(place)
        + (f" ({dead.places[rule.name, number]})" if (rule.name, number) in dead.places else "")
        for number, place in places.items()
    }
    return (
        f'<section class="graph"><h2>{text(rule.name)}</h2>'
        f"<p>{text(label)}Its runs are {text(policy_words(rule.policy))}.{never}</p>"
        f'<figure class="graph">{rule_svg(graph, rule, dead)}'
        f"<figcaption>Rule {text(rule.name)}; the table says the same.</figcaption></figure>"
        f"{rule_table(rule.name, rows_of(graph, rule.name, dead), said)}</section>"
    )


def rule_table(name: str, rows: tuple[Row, ...], places: dict[int, str]) -> str:
    """The ways of a rule as a table: place, when, guard, what it does, to where."""
    body = "".join(
        f'<tr><th scope="row">{row.number}</th>'
        f"<td>{_cell('from', places[row.source])}</td><td>{_cell('when', row.when)}</td>"
        f"<td>{_cell('if', row.guard or '–')}</td>"
        f"<td>{_cell('does', ', then '.join(row.does) or 'nothing')}</td>"
        f"<td>{_cell('to', places[row.target])}</td>"
        f"<td>{_cell('note', ', '.join(row.told))}</td></tr>"
        for row in rows
    )
    return (
        f'<table class="stacked ways"><caption>Ways of rule {text(name)}</caption><thead><tr>'
        '<th scope="col">No.</th><th scope="col">Place</th><th scope="col">When</th>'
        '<th scope="col">If</th><th scope="col">Does</th><th scope="col">To</th>'
        f'<th scope="col">Note</th></tr></thead><tbody>{body}</tbody></table>'
    )


def _cell(key: str, value: str) -> str:
    """A cell's words, with what they are: shown where the table is stacked, on a phone."""
    return f'<span class="key">{key}: </span>{text(value)}' if value else ""


# ---------------------------------------------------------------- who drives what


def drives_body(drives: Drives) -> str:
    """The body of the page about who drives what."""
    alone = ", ".join(thing.name for thing in drives.alone)
    left = f"<p>Joined to nothing: {text(alone)}.</p>" if alone else ""
    return (
        f"<h1>{DRIVES_TITLE}</h1><p>Job: {text(drives.name)}</p>"
        "<p>From left to right: what comes in, the rules, what they drive. The form of a line says "
        "how; what a rule both reads and sets stands on both sides.</p>"
        f'<figure class="graph">{drives_svg(drives)}'
        "<figcaption>Who drives what; the table says the same.</figcaption></figure>"
        f"{drives_table(drives)}{left}"
    )


def drives_table(drives: Drives) -> str:
    """Who drives what as a table."""
    body = "".join(_drive(row) for row in drives.rows)
    return (
        '<table class="stacked ways"><caption>Who drives what</caption><thead><tr>'
        '<th scope="col">This</th><th scope="col">How</th><th scope="col">That</th>'
        f'<th scope="col">Note</th></tr></thead><tbody>{body}</tbody></table>'
    )


def _drive(row: DriveRow) -> str:
    note = "never: a rule that never fires" if row.never else ""
    return (
        f'<tr><th scope="row">{_thing(row.source)}</th><td>{_cell("how", row.how)}</td>'
        f"<td>{_thing(row.target)}</td><td>{text(note)}</td></tr>"
    )


def _thing(thing: Thing) -> str:
    label = f", {text(thing.label)}" if thing.label and thing.label != thing.name else ""
    kind = "" if thing.kind == "shared" else f" ({thing.kind}{label})"
    return f"{text(thing.name)}{kind}"
