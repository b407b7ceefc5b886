"""Name, version and licence of each component of an SBOM, one a line; exit code 1 if one has none."""

import json
import sys
from pathlib import Path

KNOWN = {
    # What their metadata names is lost on the way, or is only in their COPYING.
    "z3-solver": "MIT",
    "cvc5": "BSD-3-Clause; parts of its wheel under MIT (MiniSat), LGPL-3.0 (GMP): see its texts",
}


def licence_of(component: dict) -> str:
    """The licence as its author wrote it; its identifier where there is one."""
    for choice in component.get("licenses", []):
        if "expression" in choice:
            return str(choice["expression"])
    names = [
        licence.get("id") or licence.get("name", "")
        for choice in component.get("licenses", [])
        if (licence := choice.get("license", {})) and "text" not in licence
    ]
    told = ", ".join(name for name in dict.fromkeys(names) if name)
    return told or KNOWN.get(component["name"], "")


bom = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
rows = [(c["name"], c.get("version", ""), licence_of(c)) for c in bom["components"]]
for name, version, licence in sorted(rows):
    sys.stdout.write(f"{name} {version}: {licence or 'NOT STATED'}\n")
sys.exit(any(not licence for _, _, licence in rows))
