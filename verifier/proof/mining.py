"""Keeping the candidates that are inductive together, with one solver and no search of states.

Start with all candidates that hold where runs begin; ask for a step from a state in which all
the remaining ones hold to one in which some do not; drop those; again, until there is none
(Flanagan and Leino, "Houdini", 2001). What remains is an invariant by itself.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from verifier.proof.certificate import chosen, declared, passing, standing_lemmas
from verifier.proof.formula import Formula, Writer
from verifier.proof.relation import Relation


def mined(
    relation: Relation,
    guesses: list[Formula],
    limit_s: float,
    *,
    alone: bool = True,
    needed: frozenset[Formula] = frozenset(),
) -> tuple[Formula, ...] | None:
    """The greatest inductive subset of the guesses; None if time runs out, or one that is needed goes.

    Not ``alone``: inductive under steps that take several paths at once, too; fewer, and quicker.
    """
    until = time.monotonic() + limit_s
    miner = _Miner(relation, guesses, alone, needed)
    alive = miner.at_start(list(range(len(guesses))), until)
    if alive is None:
        return None
    alive = miner.kept(alive, until)
    if alive is None:
        return None
    return tuple(guesses[k] for k in alive)


class _Miner:
    def __init__(
        self, relation: Relation, guesses: list[Formula], alone: bool, needed: frozenset[Formula]
    ) -> None:
        self.alone = alone
        self.needed = {k for k, guess in enumerate(guesses) if guess in needed}
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
        # One of the candidates is broken; those that are dropped may not be the one any more.
        solver.add(z3.Or(list(hit.values())))
        reader = _Reader(self.writer, context)
        while alive:
            left = until - time.monotonic()
            if left <= 0:
                return None
            solver.set("timeout", max(1, int(left * 1000)))
            answer = solver.check([on[k] for k in alive] if hold else [])
            if answer == z3.unsat:
                return alive
            if answer != z3.sat:
                return None
            values = reader.state_in(solver.model())
            broken = {k for k in alive if not values.holds(self.guesses[k])}
            if broken & self.needed:
                return None
            solver.add([z3.Not(hit[k]) for k in alive if k in broken])
            alive = [k for k in alive if k not in broken]
        return alive


class _Reader:
    """Reads the state afterwards off a model: straight from z3's own functions, as there are many.

    (Through the classes of z3's Python it took more time than the solving.)
    """

    def __init__(self, writer: Writer, context: Any) -> None:
        import z3

        self.writer = writer
        self.context = context
        self.bools = {
            name.strip("|"): z3.Bool(name.strip("|"), context).decl()
            for variable in range(len(writer.layout.variables))
            for name in writer.names(variable, "'")
        }
        self.reals = {
            clock: z3.Real(writer.clock(clock, "'").strip("|"), context).decl()
            for clock in writer.clocks
        }

    def state_in(self, model: Any) -> _Values:
        """The state; what a model leaves open is no, or 0."""
        from z3 import z3core

        context = self.context.ref()

        def value_of(declaration: Any, told: Callable[[Any, Any], Any]) -> Any:
            found = z3core.Z3_model_get_const_interp(context, model.model, declaration.ast)
            if not found:
                return None
            z3core.Z3_inc_ref(context, found)
            value = told(context, found)
            z3core.Z3_dec_ref(context, found)
            return value

        def is_true(name: str) -> bool:
            return bool(value_of(self.bools[name], z3core.Z3_get_bool_value) == 1)

        count = len(self.writer.layout.variables)
        masks = [self.writer.mask_of(variable, "'", is_true) for variable in range(count)]
        clocks = {
            clock: Fraction(value_of(declaration, z3core.Z3_get_numeral_string) or 0)
            for clock, declaration in self.reals.items()
        }
        return _Values(masks, clocks)


class _Values:
    """A concrete state in which formulas can be evaluated."""

    def __init__(self, masks: list[int], clocks: dict[int, Fraction]) -> None:
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
                left = self.clocks[i - 1] if i else Fraction(0)
                right = self.clocks[j - 1] if j else Fraction(0)
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
