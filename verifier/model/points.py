"""Points and settings: options checked against the kind of point that they are given to."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, cast

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.model.figures import Unit, Unreadable, quantity
from verifier.model.job import Point, PointKind, Setting, Value
from verifier.model.names import Names, article, joined_kinds
from verifier.model.report import joined

_OUTPUTS = (PointKind.LAMP, PointKind.DIMMER, PointKind.LOAD)
_WIRED = (PointKind.CONTACT, PointKind.LIMIT, PointKind.SWITCH)
_ALLOWED: dict[str, tuple[PointKind, ...]] = {
    "power": _OUTPUTS,
    "holds": (PointKind.DETECTOR,),
    "rearm": (PointKind.DETECTOR,),
    "wired normally": _WIRED,
    "broken wire reads": (*_WIRED, PointKind.DETECTOR, PointKind.PHOTOCELL),
    "wireless": tuple(kind for kind in PointKind if kind is not PointKind.FLAG),
    "starts": tuple(kind for kind in PointKind if kind is not PointKind.BUTTON),
    "with local switch": _OUTPUTS,
    "on power return": _OUTPUTS,
    "retained": (PointKind.FLAG,),
}


def setting(node: tree.Setting, name: str, names: Names) -> Setting | None:
    """A setting: a duration, a level or a clock time."""
    found = quantity(node.figure.text)
    report = names.report
    if isinstance(found, Unreadable):
        report.error("bad-figure", found.message, node.figure.span, found.hint)
        return None
    match found.unit:
        case Unit.DURATION:
            kind: Literal["duration", "level", "clock time"] = "duration"
        case Unit.LEVEL:
            kind = "level"
        case Unit.CLOCK:
            kind = "clock time"
        case Unit.NUMBER:
            report.error(
                "unit-missing",
                f"`{node.figure.text}` has no unit",
                node.figure.span,
                f"Write `{node.figure.text} s`, `{node.figure.text} %` or a clock time such as `22:30`.",
            )
            return None
        case _:
            report.error(
                "wrong-unit",
                f"`{node.figure.text}` is {found.unit.value}; a setting has a time or a level",
                node.figure.span,
                "Write `2 min`, `60 %` or `22:30`.",
            )
            return None
    if found.value < 0 or (kind == "level" and found.value > 100):
        report.error(
            "out-of-range",
            "a setting cannot be below 0, nor a level above 100 %",
            node.figure.span,
            "Write `2 min` or `60 %`.",
        )
        return None
    return Setting(name, kind, found.value, node.name.span)


def once(clauses: tuple[tree.Clause, ...], names: Names) -> dict[str, tree.Clause]:
    """Clauses by their words; what is given twice is an error."""
    found: dict[str, tree.Clause] = {}
    for clause in clauses:
        first = found.setdefault(clause.words, clause)
        if first is not clause:
            names.report.error(
                "given-twice",
                f"`{clause.words}` is given twice",
                clause.span,
                "Take one of them out.",
                also=(Label(first.span, "the first time"),),
            )
    return found


def point(node: tree.Point, name: str, names: Names) -> Point:
    """A point; what is wrong with an option is reported and left out."""
    kind = PointKind(node.kind)
    options = {
        words: clause
        for words, clause in once(node.clauses, names).items()
        if _fits(words, clause, kind, names)
    }
    return Point(
        name=name,
        label=node.label.text if node.label else "",
        kind=kind,
        starts=_starts(options.get("starts"), kind, names),
        power_w=_power(options.get("power"), names),
        holds_s=_seconds(options.get("holds"), names),
        rearm_s=_seconds(options.get("rearm"), names),
        wired=_wired(options.get("wired normally"), names),
        broken_wire_reads=_word(options.get("broken wire reads"), kind.values, names),
        wireless="wireless" in options,
        local_switch="with local switch" in options,
        power_return=cast(
            Literal["off", "on", "last"],
            _word(options.get("on power return"), ("off", "on", "last"), names) or "off",
        ),
        retained="retained" in options,
        span=node.name.span,
    )


def _fits(words: str, clause: tree.Clause, kind: PointKind, names: Names) -> bool:
    if words == "power" and kind is PointKind.DETECTOR:
        names.report.error(
            "option-misplaced",
            "a figure alone says nothing about a detector",
            clause.span,
            "Write `holds 8 s` or `rearm 3 s`.",
        )
        return False
    allowed = _ALLOWED[words]
    if kind in allowed:
        return True
    what = "a power" if words == "power" else f"`{words}`"
    hint = (
        "A button has no value to start with."
        if words == "starts"
        else f"It belongs to {article(joined_kinds(allowed))}."
    )
    if words == "wireless":
        hint = "A flag is the controller's own memory: nothing is sent."
    names.report.error(
        "option-misplaced", f"{what} cannot be given for {article(kind.value)}", clause.span, hint
    )
    return False


def _amount(clause: tree.Clause) -> tree.Amount:
    operand = clause.operands[0]
    if isinstance(operand, tree.Label):
        raise AssertionError("points: a label where the grammar has none")
    return operand


def _seconds(clause: tree.Clause | None, names: Names) -> Fraction | None:
    return None if clause is None else names.duration(_amount(clause), above_zero=False)


def _power(clause: tree.Clause | None, names: Names) -> Fraction | None:
    if clause is None:
        return None
    value = names.figure(_amount(clause), Unit.POWER)
    if value is not None and value < 0:
        names.report.error(
            "out-of-range", "a power cannot be below 0 W", clause.span, "Write `80 W`."
        )
        return None
    return value


def _word(clause: tree.Clause | None, fitting: tuple[str, ...], names: Names) -> str | None:
    """The word of a clause, one of those that fit."""
    if clause is None:
        return None
    operand = clause.operands[0]
    if isinstance(operand, tree.Name) and operand.text in fitting:
        return operand.text
    names.report.error(
        "unknown-value",
        f"`{operand.text}` does not fit after `{clause.words}`",
        operand.span,
        f"It can be {joined(fitting)}.",
    )
    return None


def _wired(
    clause: tree.Clause | None, names: Names
) -> Literal["normally open", "normally closed"] | None:
    match _word(clause, ("open", "closed"), names):
        case "open":
            return "normally open"
        case "closed":
            return "normally closed"
        case _:
            return None


def _starts(clause: tree.Clause | None, kind: PointKind, names: Names) -> Value | None:
    if clause is None:
        return None
    if kind is not PointKind.DIMMER:
        return _word(clause, kind.values, names)
    return dimmer_level(_amount(clause), names)


def dimmer_level(value: tree.Amount, names: Names) -> Fraction | None:
    """The level that a dimmer is set to by ``on``, ``off``, a level or a setting."""
    if isinstance(value, tree.Name) and value.text in ("on", "off"):
        return Fraction(100 if value.text == "on" else 0)
    if isinstance(value, tree.Name) and not isinstance(names.lookup(value.text), Setting):
        names.report.error(
            "unknown-value",
            f"a dimmer cannot be set to `{value.text}`",
            value.span,
            "Write `on`, `off`, a level such as `60 %`, or a setting.",
        )
        return None
    return names.level(value, settable=True)
