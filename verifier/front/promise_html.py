"""The promises of a job as the body of a page, for the client to sign."""

from __future__ import annotations

from verifier.explain.diagram import Diagram, Instant
from verifier.front.figures import moment
from verifier.front.page import cautions, text
from verifier.front.promise_text import KINDS, OPENING, SIGNED, UNTRIED
from verifier.front.timing_svg import timing_svg
from verifier.handover.promise import Promise, Promised, PromisedRun, promise_title

_CLASS = {"keeps": "good", "breaks": "bad", "reaches": "good", "asks": "open"}
_MARK = {"keeps": "✓", "breaks": "✗", "reaches": "✓", "asks": "?"}


def promise_body(promise: Promise, made: str) -> str:
    """The body of the page; ``made`` is the date."""
    parts = [
        f"<h1>{text(promise_title(promise))}</h1>",
        f'<p class="small">{text(made)}</p>',
        f'<p class="lead">{text(OPENING)}</p><p>{text(UNTRIED)}</p>',
        _contents(promise),
    ]
    parts += [_promised(each, place) for place, each in enumerate(promise.promised, 1)]
    words = "".join(f"<dt>{text(term)}</dt><dd>{text(means)}</dd>" for term, means in promise.words)
    parts.append(f"<section><h2>What the words mean</h2><dl>{words}</dl></section>")
    parts.append(_listed("What is assumed", promise.assumed, "Nothing is assumed."))
    parts.append(_listed("Faults that are considered", promise.faults, "No fault is considered."))
    parts.append(cautions())
    parts.append(_signed())
    return "\n".join(parts)


def _contents(promise: Promise) -> str:
    rows = "".join(
        f'<tr><td>{place}</td><th scope="row"><a href="#promise-{place}">'
        f"{text(each.requirement.label or each.requirement.name)}</a></th>"
        "<td>☐ agreed &nbsp; ☐ to be changed</td></tr>"
        for place, each in enumerate(promise.promised, 1)
    )
    return (
        '<table class="stacked"><caption>The promises</caption><thead><tr>'
        '<th scope="col">No.</th><th scope="col">Promise</th><th scope="col">Client</th>'
        f"</tr></thead><tbody>{rows}</tbody></table>"
    )


def _promised(each: Promised, place: int) -> str:
    title = each.requirement.label or each.requirement.name
    exactly = "".join(f"<li>{text(sentence)}</li>" for sentence in each.said.exactly)
    parts = [
        f'<article id="promise-{place}"><h2>{place}. {text(title)}</h2>',
        f'<p class="lead">{text(each.said.sentence)}</p>',
    ]
    if exactly:
        parts.append(f"<p>Exactly:</p><ul>{exactly}</ul>")
    parts += [_run(run, place) for run in each.runs]
    if each.missing:
        parts.append(f'<p class="small">{text(each.missing)}</p>')
    parts.append("</article>")
    return "\n".join(parts)


def _run(run: PromisedRun, place: int) -> str:
    kind = run.example.kind
    words = f"{KINDS[kind]} {run.diagram.title}"
    named = text(f"Picture of promise {place}: {KINDS[kind]}")
    return (
        f'<h3><span class="word {_CLASS[kind]}"><span class="mark" aria-hidden="true">'
        f"{_MARK[kind]}</span>{text(KINDS[kind])}</span></h3>"
        f'<figure><div class="scroll" tabindex="0" role="region" aria-label="{named}">'
        f"{timing_svg(run.diagram)}</div><figcaption>{text(run.diagram.title)}</figcaption></figure>"
        f"{_table(run.diagram, words)}"
    )


def _table(diagram: Diagram, words: str) -> str:
    """The picture as a table."""
    start = ", ".join(f"{lane.label}: {lane.values[0]}" for lane in diagram.lanes if lane.subject)
    rows = [f'<tr><th scope="row">start</th><td>before</td><td>{text(start)}</td></tr>']
    for number, instant in enumerate(diagram.instants):
        if number:
            rows.append(
                f'<tr><th scope="row">{number}</th><td>{text(_when(instant))}</td>'
                f"<td>{text(instant.words)}</td></tr>"
            )
    return (
        f'<table class="stacked"><thead><tr><th scope="col">Step</th><th scope="col">When</th>'
        f'<th scope="col">What happens</th></tr></thead><tbody>{"".join(rows)}</tbody></table>'
    )


def _when(instant: Instant) -> str:
    return instant.clock or moment(instant.at_s, instant.just_after)


def _listed(title: str, sentences: tuple[str, ...], none: str) -> str:
    items = "".join(f"<li>{text(sentence)}</li>" for sentence in sentences)
    inner = f"<ul>{items}</ul>" if items else f"<p>{text(none)}</p>"
    return f"<section><h2>{text(title)}</h2>{inner}</section>"


def _signed() -> str:
    rows = "".join(
        f'<tr><th scope="row">{who}</th><td></td><td></td><td></td></tr>' for who in SIGNED
    )
    return (
        '<section><h2>Agreed</h2><table class="sign"><thead><tr><th scope="col">For</th>'
        '<th scope="col">Name</th><th scope="col">Date</th><th scope="col">Signature</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></section>"
    )
