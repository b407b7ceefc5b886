"""The two solvers that check a certificate, each fresh, on SMT-LIB text.

Nothing of the engines reaches them but the text. Seeds are fixed; an answer is an enum at once
(in z3's Python ``bool(unsat)`` is true, so its answers never travel).

Limits of time hold for the search and not for reading; what must be stopped for certain runs in
a worker (:mod:`verifier.proof.workers`). A solver that needs more memory than there is raises
MemoryError: that says nothing of the text.
"""

from __future__ import annotations

import enum
import functools
import os
import re
import sys
from typing import Any


class Answer(enum.Enum):
    """What a solver says of a text. BROKEN: it could not read it, or failed.

    UNKNOWN: the limit was reached, or the solver gave up.
    """

    UNSAT = "unsat"
    SAT = "sat"
    UNKNOWN = "unknown"
    BROKEN = "broken"


def load_solvers() -> None:
    """Loads both, and makes what z3 keeps for the process: once, before workers are forked.

    Each answers a first text: what a solver sets up at its first is then set up for all.
    """
    text = "(set-logic QF_LRA)\n(assert false)\n(check-sat)\n"
    assert check_with_z3(text, 10) is Answer.UNSAT
    assert check_with_cvc5(text, 10) is Answer.UNSAT


def check_with_z3(text: str, limit_s: float) -> Answer:
    """The answer of a fresh z3 to one text."""
    return check_all_with_z3((text,), limit_s)[0]


def check_all_with_z3(texts: tuple[str, ...], limit_s: float) -> tuple[Answer, ...]:
    """The answers of z3, each text in a solver of its own."""
    import z3

    context = _context()
    return tuple(_z3_answer(z3, context, text, limit_s) for text in texts)


@functools.cache
def _context() -> Any:
    """A context that holds solvers of certificates only: no term of an engine comes into it.

    One for the process: to make one faults in 16 MB, which is more than a certificate takes.
    """
    import z3

    return z3.Context()


def _z3_answer(z3: Any, context: Any, text: str, limit_s: float) -> Answer:
    if not _is_one_check(text):
        return Answer.BROKEN
    try:
        solver = z3.SolverFor("QF_LRA", ctx=context)
        solver.set("timeout", _milliseconds(limit_s))
        solver.set("random_seed", 0)
        solver.from_string(text)
        result = solver.check()
    except z3.Z3Exception as failure:
        if "out of memory" in str(failure):
            _context.cache_clear()
            raise MemoryError(str(failure)) from failure
        return Answer.BROKEN
    if result == z3.unsat:
        return Answer.UNSAT
    return Answer.SAT if result == z3.sat else Answer.UNKNOWN


def check_with_cvc5(text: str, limit_s: float) -> Answer:
    """The answer of a fresh cvc5 to one text."""
    if not _is_one_check(text):
        return Answer.BROKEN
    import cvc5

    try:
        manager = cvc5.TermManager()
        solver = cvc5.Solver(manager)
        # Not `tlimit`: only cvc5's own command heeds that.
        solver.setOption("tlimit-per", str(_milliseconds(limit_s)))
        solver.setOption("seed", "0")
        parser = cvc5.InputParser(solver)
        parser.setStringInput(cvc5.InputLanguage.SMT_LIB_2_6, text, "certificate")
        symbols = parser.getSymbolManager()
        said: list[str] = []
        while True:
            command = parser.nextCommand()
            if command.isNull():
                break
            output = str(command.invoke(solver, symbols)).strip()
            if output:
                said.append(output)
    except MemoryError:
        raise
    except Exception:  # cvc5's own exceptions share no base that its wheels all export
        return Answer.BROKEN
    if len(said) != 1:
        return Answer.BROKEN
    # "unknown" goes on with its reason: "unknown (TIMEOUT)".
    return _ANSWERS.get(said[0].partition(" (")[0], Answer.BROKEN)


_ANSWERS = {"unsat": Answer.UNSAT, "sat": Answer.SAT, "unknown": Answer.UNKNOWN}

_CHECK = "(check-sat)"


def _is_one_check(text: str) -> bool:
    """Whether the text asks once, at its end: z3 would else answer for what was not asked.

    >>> [_is_one_check(t) for t in ("(check-sat)", "(assert false)", "(check-sat)(assert false)")]
    [True, False, False]
    """
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text and text.count(_CHECK) == 1 and text.rstrip().endswith(_CHECK)


_TOKEN = re.compile(r'\|[^|]*\||"[^"]*"|;[^\n]*|[()]|[^\s()|";]+')


_NUMBER = re.compile(r"\d+(\.\d+)?")
_BOUND = re.compile(r"a!\d+")
_WORDS = frozenset({"and", "or", "not", "=>", "ite", "let", "true", "false", "distinct"})
_SIGNS = frozenset({"=", "<", "<=", ">", ">=", "+", "-", "*", "/"})


def what_is_no_term(text: str, names: frozenset[str]) -> str:
    """Why a text is not one term over the given names, each in bars; empty if it is one.

    A name without its bars would escape the mark of the state afterwards.

    >>> names = frozenset({"|a|"})
    >>> what_is_no_term("(not |a|)", names), what_is_no_term("a", names)
    ('', 'it holds “a”')
    >>> what_is_no_term("true) (assert false", names)
    'its brackets do not match'
    """
    depth, terms = 0, 0
    for token in _TOKEN.findall(text):
        if depth == 0 and token != ")":
            terms += 1
        if token in "()":
            depth += 1 if token == "(" else -1
            if depth < 0:
                return "its brackets do not match"
        elif not (
            token in names
            or token in _WORDS
            or token in _SIGNS
            or _NUMBER.fullmatch(token)
            or _BOUND.fullmatch(token)
        ):
            return f"it holds “{token}”"
    if depth:
        return "its brackets do not match"
    return "" if terms == 1 else "it is not one term"


def commands_of(text: str) -> list[str]:
    r"""The command of each line of SMT-LIB, to look at before a text of others is solved.

    >>> commands_of("(assert (= |a ( b| 1)) ; (exit)\n(check-sat)")
    ['assert', 'check-sat']
    """
    found: list[str] = []
    depth, opened = 0, False
    for token in _TOKEN.findall(text):
        if token.startswith(";"):
            continue
        if token == "(":
            depth, opened = depth + 1, depth == 0
            continue
        if token == ")":
            depth -= 1
        elif opened or depth == 0:
            found.append(token)
        opened = False
    return found


def _milliseconds(limit_s: float) -> int:
    return max(1, min(int(limit_s * 1000), 2**31 - 1))


def solver_versions() -> tuple[tuple[str, str], ...]:
    """Names and versions of the solvers."""
    return (("z3", _version("z3-solver")), ("cvc5", _version("cvc5")))


def _version(distribution: str) -> str:
    """The version of an installed distribution: the first on the path, as importers take it.

    It is in the name of the folder that an installer leaves; where there is not one such folder,
    the standard library is asked, which takes longer to load than all the rest of a look-up.
    """
    begins = distribution.replace("-", "_") + "-"
    for place in sys.path:
        try:
            inside = os.listdir(place or ".")
        except OSError:
            continue
        found = [name for name in inside if name.lower().startswith(begins)]
        if len(found) == 1 and found[0].endswith(_INFO):
            return found[0][len(begins) : -len(_INFO)]
        if found:
            break
    from importlib.metadata import version

    return version(distribution)


_INFO = ".dist-info"
