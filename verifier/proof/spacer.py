"""Inductive invariants from Spacer, z3's engine for systems of Horn clauses over the reals.

A last resort behind mined lemmas: it finds invariants that no template has, or nothing for a long
time. It slows down in a process that has run others before and overruns its limits, so run it as
the task that ``invariant_task`` makes, in a pool that has run nothing else.

Source: A. Komuravelli, A. Gurfinkel, S. Chaki, "SMT-based model checking for recursive programs"
(2014), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from verifier.proof.certificate import chosen, passing, standing_lemmas
from verifier.proof.formula import Writer, any_of, of_cube
from verifier.proof.relation import Relation
from verifier.proof.workers import Task

Sort = Literal["Bool", "Real"]


@dataclass(frozen=True, slots=True)
class TransitionSystem:
    """A transition system in SMT-LIB terms.

    ``variables`` are (name, sort). ``bad`` is a term over them; ``initial`` one over them and
    over ``choices``, which stand for what is taken from outside, such as the time that passes;
    each of ``transitions`` is a term over both and over ``NAME_next`` for each variable.
    """

    variables: tuple[tuple[str, Sort], ...]
    initial: str
    transitions: tuple[str, ...]
    bad: str
    choices: tuple[tuple[str, Sort], ...] = ()


NOW = " now"
"""Ends the name of each variable of a relation's system: no name is then another's successor."""
NEXT = NOW + "_next"


def system_of(relation: Relation) -> TransitionSystem:
    """The transition system of a relation: one transition for all paths, and one for time.

    (One for each path was two to five times slower.)
    What fails is a failing state of the monitor, or one in which an endless chain begins.
    """
    writer = Writer(relation.system)
    choices: dict[str, Sort] = {"time passed": "Real"}
    before = " at first"
    choices.update((name[1:-1], "Bool") for name in writer.bools(before))
    choices.update((name[1:-1], "Real") for name in writer.reals(before))
    begins, at_start = chosen(writer, relation.starts, before, NOW)
    steps, taken = chosen(
        writer, tuple(path for path in relation.paths if not path.endless), NOW, NEXT
    )
    # Names of paths at the start and later differ by their mark.
    choices.update((line.split("|")[1], "Bool") for line in (*begins, *steps))
    standing = [writer.formula(one, before) for one in standing_lemmas(relation.system)]
    bad = [of_cube(cube) for cube in relation.bad]
    bad.extend(of_cube(path.before) for path in relation.paths if path.endless)
    return TransitionSystem(
        variables=(
            *((name[1:-1], "Bool") for name in writer.bools(NOW)),
            *((name[1:-1], "Real") for name in writer.reals(NOW)),
        ),
        initial=_and([*standing, *at_start]),
        transitions=(_and(passing(writer, NOW, NEXT)), _and(taken)),
        bad=writer.formula(any_of(bad), NOW),
        choices=tuple(choices.items()),
    )


def _and(parts: list[str]) -> str:
    return f"(and true {' '.join(parts)})"


def invariant_by_spacer(relation: Relation, limit_s: float) -> str | None:
    """An inductive invariant of a relation in which nothing fails; None if none was found.

    One SMT-LIB term in the names of a certificate's texts, of which the standing lemmas are a
    part. Checked as :func:`find_invariant` says: the certificate is still to be made.

    Units: ``limit_s`` in seconds, soft.
    """
    writer = Writer(relation.system)
    standing = [writer.formula(one, NOW) for one in standing_lemmas(relation.system)]
    lemmas = tuple(dict.fromkeys(text for text in standing if text != "true"))
    found = find_invariant(system_of(relation), lemmas, limit_s)
    return None if found is None else found.replace(f"{NOW}|", "|")


def invariant_task(
    number: int, system: TransitionSystem, lemmas: tuple[str, ...], limit_s: float
) -> Task:
    """The task that looks for an invariant and is ended for certain soon after its limit."""
    arguments = (system, lemmas, limit_s)
    return Task(number, "verifier.proof.spacer:find_invariant", arguments, limit_s + 1.0)


def find_invariant(system: TransitionSystem, lemmas: tuple[str, ...], limit_s: float) -> str | None:
    """An inductive invariant without a bad state, as one SMT-LIB term; None if none was found.

    ``lemmas`` are terms over the variables that together are inductive: the search keeps to the
    states in which they hold, and they are part of the answer. The answer was checked here, with
    z3 alone; None also where it failed that check, as with lemmas that are not inductive.

    Units: ``limit_s`` in seconds, soft.
    Raises: ValueError if a term cannot be read.
    """
    import z3

    z3.set_param("smt.random_seed", 0)
    reader = Reader(z3, system)
    known = z3.And([reader.term(lemma) for lemma in lemmas] + [z3.BoolVal(True)])
    initial, bad = reader.term(system.initial), reader.term(system.bad)
    steps = [reader.term(text) for text in system.transitions]
    fixedpoint = z3.Fixedpoint()
    fixedpoint.set(
        **{
            "engine": "spacer",
            "spacer.push_pob": True,
            "spacer.random_seed": 0,
            # Transformations would replace the relation whose cover is read below.
            "xform.slice": False,
            "xform.inline_eager": False,
            "xform.inline_linear": False,
            "timeout": max(1, round(limit_s * 1000)),
        }
    )
    sorts = [variable.sort() for variable in reader.now]
    reached = z3.Function("reached", *sorts, z3.BoolSort())
    failed = z3.Function("failed", z3.BoolSort())
    for relation in (reached, failed):
        fixedpoint.register_relation(relation)
    for variable in (*reader.now, *reader.then, *reader.choices):
        fixedpoint.declare_var(variable)
    here = reached(*reader.now)
    fixedpoint.rule(here, [initial])
    for step in steps:
        fixedpoint.rule(reached(*reader.then), [here, known, step])
    fixedpoint.rule(failed(), [here, known, bad])
    try:
        if fixedpoint.query(failed()).r != -1:
            return None
        # The cover's variables are numbered by the relation's places.
        cover = z3.substitute_vars(fixedpoint.get_cover_delta(-1, reached), *reader.now)
    except z3.Z3Exception:  # how it tells that its time was over, at times
        return None
    invariant = z3.And(known, cover)
    after = z3.substitute(invariant, *zip(reader.now, reader.then, strict=True))
    for claim in (
        z3.And(initial, z3.Not(invariant)),
        z3.And(invariant, z3.Or(steps), z3.Not(after)),
        z3.And(invariant, bad),
    ):
        solver = z3.SolverFor("QF_LRA")
        solver.set("timeout", max(1, round(limit_s * 1000)))
        solver.add(claim)
        if solver.check().r != -1:
            return None
    found = _text_of(z3.simplify(cover))
    parts = [*lemmas] if lemmas and found == "true" else [*lemmas, found]
    return parts[0] if len(parts) == 1 else f"(and {' '.join(parts)})"


def _text_of(term: Any) -> str:
    """A z3 term as SMT-LIB on one line."""
    return " ".join(term.sexpr().split())


class Reader:
    """The variables of a system as z3 constants, and its texts as z3 terms over them."""

    def __init__(self, z3: Any, system: TransitionSystem) -> None:
        def constants(suffix: str, named: tuple[tuple[str, Sort], ...]) -> list[Any]:
            return [
                z3.Const(name + suffix, z3.BoolSort() if sort == "Bool" else z3.RealSort())
                for name, sort in named
            ]

        self._z3 = z3
        self.now = constants("", system.variables)
        self.then = constants("_next", system.variables)
        self.choices = constants("", system.choices)
        self._names = {
            str(constant.decl().name()): constant
            for constant in (*self.now, *self.then, *self.choices)
        }
        if len(self._names) != len(self.now) * 2 + len(self.choices):
            raise ValueError("two variables of the system have the same name")

    def term(self, text: str) -> Any:
        """The term of a text."""
        try:
            read = self._z3.parse_smt2_string(f"(assert {text}\n)", decls=self._names)
        except self._z3.Z3Exception as error:
            raise ValueError(f"cannot read the term {text!r}: {error}") from None
        if len(read) != 1:
            raise ValueError(f"not one term: {text!r}")
        return read[0]
