"""A relation given to Spacer, and what it finds given back as a lemma."""

from __future__ import annotations

import re

from verifier.proof.certificate import standing_lemmas
from verifier.proof.formula import Formula, Quoted, Writer, any_of, of_cube
from verifier.proof.relation import Path, Relation
from verifier.proof.spacer import Sort, TransitionSystem, find_invariant

_QUOTED = re.compile(r"\|([^|]*)\|")
_PLAIN = re.compile(r"\bv(\d+)\b")


def lemma_by_spacer(relation: Relation, limit_s: float) -> Formula | None:
    """An inductive invariant without a failing state, found by Spacer; None if it found none."""
    writer = Writer(relation.system)
    names = [name.strip("|") for name in (*writer.bools(), *writer.reals())]
    number = {name: k for k, name in enumerate(names)}

    def plain(text: str) -> str:
        def one(found: re.Match[str]) -> str:
            name = found.group(1)
            if name.endswith("'"):
                return f"v{number[name[:-1]]}_next"
            return f"v{number[name]}" if name in number else name

        return _QUOTED.sub(one, text)

    found = find_invariant(_system_of(relation, writer, plain, names), (), limit_s)
    if found is None:
        return None
    begun = re.sub(r"\bbegun\b", "true", found)
    return Quoted(_PLAIN.sub(lambda m: f"|{names[int(m.group(1))]}|", begun))


def _system_of(
    relation: Relation, writer: Writer, plain: object, names: list[str]
) -> TransitionSystem:
    assert callable(plain)
    bools = len(writer.bools())
    sorts: list[Sort] = ["Bool" if k < bools else "Real" for k in range(len(names))]
    standing = [writer.formula(lemma) for lemma in standing_lemmas(relation.system)]
    steps = [_step(writer, path) for path in relation.paths if not path.endless]
    begins = [_step(writer, path) for path in relation.starts]
    # A run begins with one step out of a state of which nothing is known.
    variables: list[tuple[str, Sort]] = [("begun", "Bool")]
    variables.extend((f"v{k}", sort) for k, sort in enumerate(sorts))
    first = [f"(and (not begun) begun_next {plain(_all([*standing, b]))})" for b in begins]
    later = [f"(and begun begun_next {plain(step)})" for step in [*steps, _time(writer)]]
    bad = writer.formula(any_of(of_cube(cube) for cube in relation.bad))
    return TransitionSystem(
        tuple(variables),
        "(not begun)",
        (*first, *later),
        f"(and begun {plain(bad)})",
        (("passed", "Real"),),
    )


def _all(parts: list[str]) -> str:
    kept = [part for part in parts if part != "true"]
    return f"(and {' '.join(kept)})" if kept else "true"


def _step(writer: Writer, path: Path) -> str:
    written = {variable: (source, bit) for variable, source, bit in path.values}
    moved = dict(path.clocks)
    parts = [writer.formula(of_cube(path.before))]
    for variable in range(len(writer.layout.variables)):
        parts.append(writer.assigned(variable, *written.get(variable, (variable, 0))))
    for clock in writer.clocks:
        source = moved.get(clock, clock)
        value = "0.0" if source < 0 else writer.clock(source)
        parts.append(f"(= {writer.clock(clock, chr(39))} {value})")
    return _all(parts)


def _time(writer: Writer) -> str:
    parts = ["(>= passed 0.0)"]
    for variable in range(len(writer.layout.variables)):
        parts.append(writer.assigned(variable, variable, 0))
    for clock in writer.clocks:
        parts.append(f"(= {writer.clock(clock, chr(39))} (+ {writer.clock(clock)} passed))")
    for bound in writer.layout.bounds:
        when = _all([writer.within(v, m) for v, m in bound.when])
        late = f"(<= {writer.clock(bound.clock, chr(39))} {bound.limit}.0)"
        parts.append(f"(=> {when} {late})")
    return _all(parts)
