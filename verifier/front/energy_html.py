"""The energy of a year as a section of a page: the table, the sum, where each figure is from."""

from __future__ import annotations

from verifier.front.energy_text import HEADINGS, cells, methods, origins, sums
from verifier.front.page import text
from verifier.handover.energy import Energy
from verifier.source import Sources


def energy_html(found: Energy, sources: Sources) -> str:
    """The section without its heading; energies in kWh a year."""
    table = [cells(found, each) for each in found.outputs]
    shown = [n for n in range(1, len(HEADINGS)) if any(row[n] for row in table)]
    head = "".join(f'<th scope="col">{text(HEADINGS[n].capitalize())}</th>' for n in shown)
    rows = []
    for each, row in zip(found.outputs, table, strict=True):
        label = each.point.label or each.point.name
        inner = "".join(f"<td>{text(row[n])}</td>" for n in shown)
        rows.append(f'<tr><th scope="row">{text(label)}</th>{inner}</tr>')
    said = "".join(f"<p>{text(line)}</p>" for line in sums(found))
    why = "".join(f"<li>{text(line)}</li>" for line in (*origins(found, sources), *methods(found)))
    return (
        f'{said}<div class="scroll" tabindex="0" role="region" aria-label="Energy: table"><table>'
        '<caption>kWh a year</caption><thead><tr><th scope="col">Output</th>'
        f"{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
        f"<h3>Where the figures come from</h3><ul>{why}</ul>"
    )
