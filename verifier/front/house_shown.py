"""The page for the people of the house, as text and as the body of a page."""

from __future__ import annotations

from textwrap import wrap

from verifier.front.page import text
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.handover.house import House

QUIET = (
    "“All is quiet” means: doors are shut or where they are left, nothing moves, nobody is seen, "
    "nobody presses anything, and neither night nor day has just begun."
)
NOTHING = "No light comes on by itself in this house."
RELY = "You can rely on this"
SURE = "These were promised, and checked for every case that can come about, not only tried out."
CALL = (
    "If something here is not so, tell whoever looks after your lighting: something may be broken. "
    "All of this is said of an installation in good order."
)


def house_text(house: House, paint: Paint, width: int) -> str:
    """The page as text."""
    lines = [paint(shown(house.title), "strong"), ""]
    for head, sentences in house.lines:
        lines += wrap(f"{shown(head)}: {shown(sentences)}", width, subsequent_indent="  ")
    if not house.lines:
        lines += wrap(NOTHING, width)
    lines += _more(house.more_lamps, "light", width)
    if house.promises:
        lines += ["", paint(f"{RELY}:", "strong")]
        for promise in house.promises:
            lines += wrap(f"- {shown(promise)}.", width, subsequent_indent="  ")
        lines += _more(house.more_promises, "promise", width)
        lines += ["", *wrap(SURE, width)]
    return "\n".join([*lines, *wrap(QUIET, width), *wrap(CALL, width)])


def _more(count: int, what: str, width: int) -> list[str]:
    return wrap(more_words(count, what), width) if count else []


def more_words(count: int, what: str) -> str:
    """That there is more than fits.

    >>> more_words(1, "light"), more_words(3, "promise")
    ('One more light is in the report.', '3 more promises are in the report.')
    """
    if count == 1:
        return f"One more {what} is in the report."
    return f"{count} more {what}s are in the report."


def house_body(house: House) -> str:
    """The body of the page."""
    rows = "".join(
        f'<tr><th scope="row" class="word">{text(head)}</th><td>{text(sentences)}</td></tr>'
        for head, sentences in house.lines
    )
    parts = [
        f"<h1>{text(house.title)}</h1>",
        '<table class="stacked"><caption>What each light does</caption><thead><tr><th scope="col">Light</th>'
        f'<th scope="col">What it does</th></tr></thead><tbody>{rows}</tbody></table>',
    ]
    if not house.lines:
        parts[1] = f"<p>{text(NOTHING)}</p>"
    if house.more_lamps:
        parts.append(f"<p>{text(more_words(house.more_lamps, 'light'))}</p>")
    if house.promises:
        items = "".join(f"<li>{text(promise)}.</li>" for promise in house.promises)
        parts.append(f"<h2>{text(RELY)}</h2><p>{text(SURE)}</p><ul>{items}</ul>")
        if house.more_promises:
            parts.append(f"<p>{text(more_words(house.more_promises, 'promise'))}</p>")
    parts.append(f'<p class="small">{text(QUIET)}</p><p class="small">{text(CALL)}</p>')
    return "\n".join(parts)
