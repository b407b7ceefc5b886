"""Keeping the candidates that are inductive together, with one solver and no search of states.

Start with all candidates that hold where runs begin; ask for a step from a state in which all
the remaining ones hold to one in which some do not; drop those; again, until there is none
(Flanagan and Leino, "Houdini", 2001). What remains is an invariant by itself.
"""

from __future__ import annotations

import time
from typing import Any

from verifier.proof.certificate import chosen, declared, passing, standing_lemmas
from verifier.proof.formula import Formula, Writer
from verifier.proof.relation import Relation


def mined(
    relation: Relation, guesses: list[Formula], limit_s: float, *, alone: bool = True
) -> tuple[Formula, ...] | None:
    """The greatest inductive subset of the guesses; None if time runs out.

    Not ``alone``: inductive under steps that take several paths at once, too; fewer, and quicker.
    """
    until = time.monotonic() + limit_s
    miner = _Miner(relation, guesses, alone)
    alive = miner.at_start(list(range(len(guesses))), until)
    if alive is None:
        return None
    alive = miner.kept(alive, until)
    if alive is None:
        return None
    return tuple(guesses[k] for k in alive)


class _Miner:
    def __init__(self, relation: Relation, guesses: list[Formula], alone: bool) -> None:
        self.alone = alone
        self.relation = relation
        self.writer = Writer(relation.system)
        self.guesses = guesses
        self.standing = [self.writer.formula(lemma) for lemma in standing_lemmas(relation.system)]

    def at_start(self, alive: list[int], until: float) -> list[int] | None:
        taken, asserted = chosen(self.writer, self.relation.starts)
        lines = [*declared(self.writer), *declared(self.writer, "'"), *taken]
        lines.extend(f"(assert {a})" for a in [*self.standing, *asserted])
        return self._drop(lines, alive, until, hold=False)

    def kept(self, alive: list[int], until: float) -> list[int] | None:
        writer = self.writer
        paths = tuple(p for p in self.relation.paths if not p.endless)
        taken, asserted = chosen(writer, paths, alone=self.alone)
        lines = [*declared(writer), *declared(writer, "'"), *taken]
        lines.append("(declare-const |passes| Bool)")
        lines.append("(declare-const |time passed| Real)")
        lines.extend(f"(assert {s})" for s in self.standing)
        step = " ".join(asserted)
        lines.append(f"(assert (ite |passes| (and {' '.join(passing(writer))}) (and {step})))")
        return self._drop(lines, alive, until, hold=True)

    def _drop(
        self, lines: list[str], alive: list[int], until: float, *, hold: bool
    ) -> list[int] | None:
        """The candidates that no model breaks; ``hold``: those that remain are assumed before."""
        import z3

        for k in alive:
            if hold:
                lines.append(f"(declare-const |on {k}| Bool)")
                lines.append(f"(assert (=> |on {k}| {self.writer.formula(self.guesses[k])}))")
            lines.append(f"(declare-const |hit {k}| Bool)")
            lines.append(
                f"(assert (=> |hit {k}| (not {self.writer.formula(self.guesses[k], chr(39))})))"
            )
        context = z3.Context()
        solver: Any = z3.SimpleSolver(ctx=context)
        solver.from_string("\n".join(lines))
        on = {k: z3.Bool(f"on {k}", context) for k in alive}
        hit = {k: z3.Bool(f"hit {k}", context) for k in alive}
        # A Bool of its own opens the question "is one of these broken?".
        while alive:
            left = until - time.monotonic()
            if left <= 0:
                return None
            solver.set("timeout", max(1, int(left * 1000)))
            solver.push()
            solver.add(z3.Or([hit[k] for k in alive]))
            answer = solver.check([on[k] for k in alive] if hold else [])
            if answer == z3.unsat:
                return alive
            if answer != z3.sat:
                return None
            model = solver.model()
            broken = self._broken(model, alive, context)
            solver.pop()
            alive = [k for k in alive if k not in broken]
        return alive

    def _broken(self, model: Any, alive: list[int], context: Any) -> set[int]:
        values = self._state_of(model, context)
        return {k for k in alive if not values.holds(self.guesses[k])}

    def _state_of(self, model: Any, context: Any) -> _Values:
        import z3

        writer = self.writer
        known = {d.name(): model[d] for d in model.decls()}

        def is_true(name: str) -> bool:
            return name in known and bool(z3.is_true(known[name]))

        count = len(writer.layout.variables)
        masks = [writer.mask_of(variable, "'", is_true) for variable in range(count)]
        clocks: dict[int, Any] = {}
        for clock in writer.clocks:
            value = known.get(writer.clock(clock, "'").strip("|"))
            clocks[clock] = value.as_fraction() if value is not None else 0
        return _Values(masks, clocks)


class _Values:
    """A concrete state in which formulas can be evaluated."""

    def __init__(self, masks: list[int], clocks: dict[int, Any]) -> None:
        self.masks = masks
        self.clocks = clocks

    def holds(self, formula: Formula) -> bool:
        from verifier.proof.formula import All, Compare, Either, No, OneValue, Quoted, Within

        match formula:
            case Within(variable, mask):
                return bool(self.masks[variable] & mask)
            case Compare(i, j, bound):
                if (i and i - 1 not in self.clocks) or (j and j - 1 not in self.clocks):
                    return True
                left = self.clocks[i - 1] if i else 0
                right = self.clocks[j - 1] if j else 0
                difference, limit = left - right, bound >> 1
                return bool(difference <= limit) if bound & 1 else bool(difference < limit)
            case OneValue(variable):
                return self.masks[variable].bit_count() == 1
            case All(items):
                return all(self.holds(item) for item in items)
            case Either(items):
                return any(self.holds(item) for item in items)
            case No(item):
                return not self.holds(item)
            case Quoted():
                raise AssertionError("text is no candidate")
