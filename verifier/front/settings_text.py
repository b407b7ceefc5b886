"""The schedule of settings as text, CSV and JSON."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from verifier import __version__
from verifier.explain.figures import listed
from verifier.front.paint import Paint
from verifier.front.result_places import line_of
from verifier.front.shown import shown
from verifier.handover.csv_table import csv_text
from verifier.handover.settings import REFUSED, Edge, Held, words_of
from verifier.source import Sources

NOTE = (
    "Each edge was found by proof: with the figure itself and every value that was tried up to the edge all "
    "requirements hold that held before, with the next value beyond it they do not. Between the values "
    "that were tried it is taken that they hold as well. One figure was changed at a time."
)
"""How far to trust the table."""


def settings_text(found: tuple[Held, ...], sources: Sources, paint: Paint, width: int) -> str:
    """The whole text."""
    if not found:
        return "The job has no settings, and its rules no durations, levels or clock times."
    blocks = []
    for each in found:
        head = f"{paint(title(each), 'strong')}  {paint(place(each, sources), 'place')}"
        lines = [
            part
            for line in said(each)
            for part in textwrap.wrap(line, width, initial_indent="  ", subsequent_indent="    ")
        ]
        blocks.append("\n".join([head, *lines]))
    return "\n".join([*blocks, "", *textwrap.wrap(NOTE, width)])


def title(each: Held) -> str:
    """A figure with its name, or the rule that it stands in."""
    figure = each.figure
    value = words_of(figure.kind, figure.value)
    return f"{figure.name} {value}" if figure.name else f"{value} in {figure.where}"


def place(each: Held, sources: Sources) -> str:
    """Where a figure stands, and where its setting is read."""
    at = line_of(each.figure.span, sources)
    used = tuple(dict.fromkeys(line_of(span, sources) for span in each.figure.used))
    return f"{at}, read at {listed(used)}" if used else at


def said(each: Held) -> list[str]:
    """What holds a figure, in sentences."""
    if each.figure.kind == "clock time":
        return ["A clock time: its edges are not looked for."]
    if each.low is None or each.high is None:
        return ["Its edges were not found in the time that there was."]
    if not each.touches:
        return ["No requirement that holds has to do with it."]
    of_time = each.figure.kind == "duration"
    less, more = ("shorter", "longer") if of_time else ("less", "more")
    if each.low.beyond is None and each.high.beyond is None:
        return [
            f"No requirement holds it: tried from {_value(each, each.low)} to {_value(each, each.high)}."
        ]
    return [_edge(each, each.low, less), _edge(each, each.high, more)]


def _edge(each: Held, edge: Edge, way: str) -> str:
    last = _value(each, edge)
    if edge.beyond is None and edge.last == each.figure.value:
        return f"It cannot be {way}."
    if edge.beyond is None:
        return f"Nothing keeps it from being {way}: tried to {last}."
    beyond = words_of(each.figure.kind, edge.beyond)
    if edge.unsure:
        return f"It can be {way}, to {last} at least; between that and {beyond} there was no answer in time."
    if edge.by == REFUSED:
        return f"No {way} than {last}: with {beyond} the job has an error."
    fail = "fails" if len(edge.by) == 1 else "fail"
    return f"No {way} than {last}: with {beyond} {listed(edge.by)} {fail}."


def _value(each: Held, edge: Edge) -> str:
    return words_of(each.figure.kind, edge.last)


COLUMNS = (
    "setting", "rule", "place", "read at", "kind", "value", "least", "fails below", "greatest",
    "fails above", "sure",
)  # fmt: skip


def settings_csv(found: tuple[Held, ...], sources: Sources) -> str:
    """One row for each figure; edges that were not met are empty."""
    rows = [list(COLUMNS)]
    for each in found:
        figure, low, high = each.figure, each.low, each.high
        used = dict.fromkeys(line_of(span, sources) for span in figure.used)
        rows.append(
            [
                figure.name,
                figure.where,
                line_of(figure.span, sources),
                " ".join(used),
                figure.kind,
                words_of(figure.kind, figure.value),
                _cell(each, low),
                " ".join(low.by) if low else "",
                _cell(each, high),
                " ".join(high.by) if high else "",
                "yes" if low and high and not (low.unsure or high.unsure) else "no",
            ]
        )
    return csv_text(rows)


def _cell(each: Held, edge: Edge | None) -> str:
    return "" if edge is None or edge.beyond is None else _value(each, edge)


def settings_json(found: tuple[Held, ...], sources: Sources, name: str) -> str:
    """One object; values as the language writes them."""
    value = {
        "tool": "duskproof",
        "version": __version__,
        "job": name,
        "note": NOTE,
        "figures": [_object(each, sources) for each in found],
    }
    return json.dumps(value, indent=2, ensure_ascii=False)


def _object(each: Held, sources: Sources) -> dict[str, Any]:
    figure = each.figure
    return {
        "setting": figure.name or None,
        "rule": figure.where or None,
        "where": line_of(figure.span, sources),
        "read_at": list(dict.fromkeys(line_of(span, sources) for span in figure.used)),
        "kind": figure.kind,
        "value": words_of(figure.kind, figure.value),
        "low": _edge_object(each, each.low),
        "high": _edge_object(each, each.high),
        "touches": list(each.touches),
        "said": said(each),
    }


def _edge_object(each: Held, edge: Edge | None) -> dict[str, Any] | None:
    if edge is None:
        return None
    kind = each.figure.kind
    return {
        "proved_to": words_of(kind, edge.last),
        "fails_at": None if edge.beyond is None else words_of(kind, edge.beyond),
        "fails": list(edge.by),
        "unsure": edge.unsure,
    }


def shown_names(names: tuple[str, ...]) -> str:
    """Names of requirements as a sentence lists them."""
    return listed(tuple(shown(name) for name in names))
