"""Bounded search: the relation unrolled step by step in a solver, for wide and shallow failures.

Depth counts happenings; the time that passes before each is part of its step. The first depth
at which a failing state is found is the least, for every lesser one has been refuted before.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import islice, product
from typing import Any

from verifier.proof.certificate import chosen, declared, standing_lemmas
from verifier.proof.fit import NoRealRun, timeline_of
from verifier.proof.formula import Writer, any_of, of_cube
from verifier.proof.moves import Discrete, Move, Moves
from verifier.proof.relation import Relation
from verifier.proof.timing import Timeline


@dataclass(frozen=True, slots=True)
class NotWithin:
    """No failing state within ``depth`` happenings."""

    depth: int


class Unrolling:
    """The relation unrolled as deep as it has been searched; a later search goes on from there."""

    def __init__(self, relation: Relation, moves: Moves) -> None:
        import z3

        self.relation = relation
        self.moves = moves
        self.writer = Writer(relation.system)
        self.writer.late = "~"
        self.context = z3.Context()
        self.solver: Any = z3.Solver(ctx=self.context)
        self.paths = tuple(p for p in relation.paths if not p.endless)
        self.bad = any_of(of_cube(cube) for cube in relation.bad)
        self.gave_up = False
        self.depth = 0
        """The depth that is asked next; there is nothing at any lesser one."""
        self.there: set[str] = set()
        """Declarations that the solver has (it keeps them from one text to the next)."""
        begins, asserted = chosen(self.writer, relation.starts, "@s", "@0")
        standing = [self.writer.formula(s, "@s") for s in standing_lemmas(relation.system)]
        self._add([*self._declared("@s"), *self._declared("@0"), *begins], [*standing, *asserted])
        self._enter(0)

    def search(self, most_depth: int, limit_s: float) -> Timeline | NotWithin:
        """The shortest failing path of up to ``most_depth`` happenings, or how deep there is none."""
        until = time.monotonic() + limit_s
        self.gave_up = False
        while self.depth <= most_depth:
            found = self._failing(self.depth, until)
            if found is not None:
                return found
            if self.gave_up:
                break
            self._extend(self.depth)
            self.depth += 1
        return NotWithin(self.depth - 1)

    def _declared(self, mark: str) -> list[str]:
        plain = self.writer.late_at
        self.writer.late_at = "none"
        found = declared(self.writer, mark)
        self.writer.late_at = plain
        return found

    def _late(self, depth: int) -> list[str]:
        mark = f"@{depth}"
        self.writer.late_at = mark
        return [f"(declare-const {name} Real)" for name in self.writer.reals(mark)]

    def _add(self, names: list[str], asserted: list[str]) -> None:
        new = [line for line in names if line not in self.there]
        self.there.update(new)
        lines = [*new, *(f"(assert {a})" for a in asserted)]
        self.solver.from_string("\n".join(lines))

    def _enter(self, depth: int) -> None:
        """Lets time pass in the state at ``depth``."""
        mark, writer = f"@{depth}", self.writer
        names = [
            *self._declared(mark),
            *self._late(depth),
            f"(declare-const |passes {mark}| Real)",
        ]
        asserted = [f"(>= |passes {mark}| 0.0)"]
        for clock in writer.clocks:
            late = writer.clock(clock, mark)
            plain = late.replace("~|", "|")
            asserted.append(f"(= {late} (+ {plain} |passes {mark}|))")
        for bound in writer.layout.bounds:
            when = " ".join(writer.within(v, m, mark) for v, m in bound.when)
            asserted.append(
                f"(=> (and {when}) (<= {writer.clock(bound.clock, mark)} {bound.limit}.0))"
            )
        self._add(names, asserted)

    def _extend(self, depth: int) -> None:
        """Adds one more step."""
        now, then = f"@{depth}", f"@{depth + 1}"
        late = self._late(depth)
        taken, asserted = chosen(self.writer, self.paths, now, then)
        self._add([*late, *self._declared(then), *taken], asserted)
        self._enter(depth + 1)

    def _failing(self, depth: int, until: float) -> Timeline | None:
        """The earliest failing path of exactly ``depth`` happenings that was found."""
        import z3

        mark = f"@{depth}"
        late = self._late(depth)
        best: Timeline | None = None
        self.solver.push()
        self._add(late, [self.writer.formula(self.bad, mark)])
        for _ in range(8):
            left = until - time.monotonic()
            if left <= 0:
                self.gave_up = best is None
                break
            self.solver.set("timeout", max(1, int(left * 1000)))
            answer = self.solver.check()
            if answer != z3.sat:
                self.gave_up = answer != z3.unsat and best is None
                break
            found = self._path(self.solver.model(), depth)
            if found is None:
                self.gave_up = best is None
                break
            if best is not None and found.timed.end >= best.timed.end:
                break
            best = found
            units, small = best.timed.end
            total = z3.Sum([z3.Real(f"passes @{k}", self.context) for k in range(depth + 1)])
            self.solver.add(total <= units if small else total < units)
        self.solver.pop()
        return best

    def _path(self, model: Any, depth: int) -> Timeline | None:
        import z3

        def is_true(name: str) -> bool:
            constant = z3.Bool(name, self.context)
            return bool(z3.is_true(model.eval(constant, model_completion=True)))

        def discrete(mark: str) -> Discrete:
            count = len(self.writer.layout.variables)
            return tuple(self.writer.mask_of(v, mark, is_true) for v in range(count))

        states = [discrete(f"@{k}") for k in range(depth + 1)]
        choices: list[list[Move]] = []
        for k in range(depth):
            taken = [
                path.happening for i, path in enumerate(self.paths) if is_true(f"path {i}@{k}")
            ]
            fitting = [
                move
                for move in self.moves.of(states[k])
                if not move.endless and move.happening in taken and move.target == states[k + 1]
            ]
            choices.append(fitting)
        best: Timeline | None = None
        unreal: NoRealRun | None = None
        for path in islice(product(*choices), 64):
            for bad in self.moves.info(states[-1]).bad:
                try:
                    found = timeline_of(self.moves, states[0], path, bad)
                except NoRealRun as none:
                    unreal = none
                    continue
                if found is not None and (best is None or found.timed.end < best.timed.end):
                    best = found
        if best is None and unreal is not None:
            raise unreal
        return best
