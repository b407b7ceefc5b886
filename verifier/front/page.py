"""The frame of every paper: one self-contained page for screen, phone, mail and print; no script."""

from __future__ import annotations

from html import escape

from verifier.front.shown import shown


class NoPdf(Exception):
    """PDF needs a library that is not there; ``args[0]`` says what is missing."""


def text(value: str) -> str:
    """A text as it may stand in HTML."""
    return escape(shown(value))


def page(title: str, body: str, running: str = "") -> str:
    """A whole page. ``body`` is HTML; ``running`` stands at the foot of each printed page."""
    foot = text(running or title).replace("\\", "").replace('"', "'")
    style = _STYLE.replace("RUNNING", foot)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{text(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        f"<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def pdf_of(html: str) -> bytes:
    """The page as PDF, tagged. Raises: NoPdf."""
    try:
        import weasyprint
    except (ImportError, OSError) as missing:
        raise NoPdf(str(missing).split("\n")[0]) from missing
    document = weasyprint.HTML(string=html)
    made: bytes = document.write_pdf(pdf_variant="pdf/ua-1")
    return made


CAUTIONS = (
    "Mains wiring is for licensed electricians; isolate, lock off and prove dead before you work.",
    "Powered doors can crush: keep clear of them while testing, and never rely on lighting rules "
    "for their safety.",
    "Escape-route and emergency lighting is ruled by the local code: nothing here replaces its "
    "inspection.",
    "Where this paper and the local code differ, the local code decides.",
)
"""The usual cautions, on every paper that somebody works by."""


def cautions() -> str:
    """The cautions as a section."""
    items = "".join(f"<li>{text(line)}</li>" for line in CAUTIONS)
    return f'<section class="cautions"><h2>Cautions</h2><ul>{items}</ul></section>'


_STYLE = """\
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #ffffff; color: #1b1b1b; font: 16px/1.5 "Helvetica Neue", Arial,
  "Liberation Sans", sans-serif; }
main { max-width: 60rem; margin: 0 auto; padding: 1.2rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0.4rem 0; }
h2 { font-size: 1.3rem; margin: 2rem 0 0.6rem; border-bottom: 2px solid #1b1b1b; }
h3 { font-size: 1.08rem; margin: 1.6rem 0 0.4rem; }
p, ul, ol { margin: 0.5rem 0; max-width: 46rem; }
.lead { font-size: 1.1rem; }
.small { font-size: 0.86rem; color: #444444; }
table { border-collapse: collapse; width: 100%; margin: 0.7rem 0; font-size: 0.93rem; }
caption { text-align: left; font-weight: bold; padding: 0.2rem 0; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.5rem; border-bottom: 1px solid
  #b5b5b5; overflow-wrap: anywhere; }
thead th { border-bottom: 2px solid #1b1b1b; overflow-wrap: normal; }
tbody th { font-weight: normal; }
td a { white-space: nowrap; }
.rule { min-width: 7em; }
.word { font-weight: bold; white-space: nowrap; }
.mark { display: inline-block; min-width: 1.3em; font-weight: bold; }
.bad { color: #8f1d15; }
.good { color: #1e5b2d; }
.open { color: #6b4a00; }
.cautions { border: 2px solid #1b1b1b; padding: 0.2rem 1rem 0.5rem; margin: 1.6rem 0; }
.cautions h2 { border: 0; margin: 0.5rem 0; }
.scroll { overflow-x: auto; }
.scroll svg { display: block; max-width: none; }
figure { margin: 0.8rem 0; }
figure.graph svg { display: block; max-width: 100%; height: auto; }
.key { display: none; font-weight: bold; }
figcaption { font-size: 0.9rem; }
code, pre { font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: 0.86rem; }
pre { white-space: pre-wrap; overflow-wrap: anywhere; background: #f3f3f3; padding: 0.6rem;
  margin: 0.5rem 0; }
table.sheet { font-size: 0.78rem; min-width: 62rem; }
table.sheet td:nth-child(2), table.sheet td:nth-child(3) { min-width: 6.5rem; }
table.sheet td:nth-child(9), table.sheet td:nth-child(10), table.sheet td:nth-child(11) {
  min-width: 4.2rem; border-left: 1px solid #b5b5b5; }
.sign td { height: 2.6rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.2rem 1rem; }
dt { font-weight: bold; }
dd { margin: 0; overflow-wrap: anywhere; }
@media (max-width: 36rem) {
  body { font-size: 15px; }
  main { padding: 0.8rem; }
  dl { grid-template-columns: 1fr; }
  .scroll svg { width: 100%; min-width: 27rem; height: auto; }
  table.stacked thead { position: absolute; width: 1px; height: 1px; overflow: hidden;
    clip-path: inset(50%); }
  table.stacked tr { display: block; border-bottom: 2px solid #b5b5b5; padding: 0.3rem 0; }
  table.stacked th, table.stacked td { display: block; border: 0; padding: 0.1rem 0.3rem; }
  table.ways td:empty { display: none; }
  table.ways .key { display: inline; }
}
@page { size: A4; margin: 18mm 16mm 20mm;
  @bottom-left { content: "RUNNING"; font: 8.5pt Arial, sans-serif; color: #444444; }
  @bottom-right { content: counter(page) " / " counter(pages); font: 8.5pt Arial, sans-serif;
    color: #444444; } }
@media print {
  body { font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  h2, h3, h3 + p { break-after: avoid; }
  figure, tr, .cautions { break-inside: avoid; }
  figure.graph svg { max-height: 230mm; }
  .appendix { break-before: page; }
  .scroll { overflow: visible; }
  table.sheet { min-width: 0; font-size: 7pt; }
  .scroll svg { max-width: 100%; height: auto; }
}
"""
