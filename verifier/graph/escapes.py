"""Any text as a string of DOT or of Mermaid: nothing in it is read as more than letters."""

from __future__ import annotations


def dot_quoted(text: str) -> str:
    r"""A string of DOT; a newline becomes a line break of a label.

    What its reader would take for an entity of HTML is escaped, too.

    >>> print(dot_quoted('a "b" \\N &amp;\nc'))
    "a \"b\" \\N &amp;amp;\nc"
    """
    text = "".join(_visible(sign) for sign in text)
    escaped = text.replace("&", "&amp;").replace("\\", "\\\\").replace('"', '\\"')
    return '"' + escaped.replace("\n", "\\n") + '"'


def mermaid_quoted(text: str) -> str:
    """A string of Mermaid: what HTML, Markdown or Mermaid would read as its own is an entity.

    >>> print(mermaid_quoted("<b>#1</b>"))
    "#lt;b#gt;#35;1#lt;/b#gt;"
    """
    signs = "".join(_ENTITIES.get(sign, _visible(sign)) for sign in text)
    return f'"{signs}"'


def _visible(sign: str) -> str:
    """A sign, or a box for one that has no form and may not stand in a file of these."""
    return sign if sign >= " " or sign == "\n" else "\N{WHITE SQUARE}"


_ENTITIES = {
    "#": "#35;",
    "&": "#amp;",
    '"': "#quot;",
    "<": "#lt;",
    ">": "#gt;",
    "`": "#96;",
    "*": "#42;",
    "\\": "#92;",
    "\n": "<br/>",
}
