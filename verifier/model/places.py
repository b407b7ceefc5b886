"""The site, doors and rooms."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, cast

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.model.figures import Unit
from verifier.model.job import Door, Point, PointKind, Room, Site
from verifier.model.names import Names, kind_of
from verifier.model.points import once
from verifier.model.report import joined

SUNSET_DEG = Fraction(-833, 1000)
"""The sun's altitude at sunrise and sunset. Source: US Naval Observatory, definition of rise and set."""


def site(node: tree.Site, names: Names) -> Site:
    """The site; latitude, longitude and timezone come together or not at all."""
    clauses = once(node.clauses, names)
    three = ("latitude", "longitude", "timezone")
    given = [words for words in three if words in clauses]
    if given and len(given) < 3:
        missing = [words for words in three if words not in clauses]
        names.report.error(
            "site-incomplete",
            f"the site has {joined(given, 'and')} but no {joined(missing, 'and')}",
            clauses[given[0]].span,
            "Give all three, so that sun and clock can be told, or none of them.",
        )
    timezone = clauses.get("timezone")
    return Site(
        name=node.label.text,
        latitude_deg=_angle(clauses.get("latitude"), 90, names),
        longitude_deg=_angle(clauses.get("longitude"), 180, names),
        timezone=None if timezone is None else _timezone(timezone, names),
        night_below_deg=_or(_angle(clauses.get("night below"), 90, names), SUNSET_DEG),
        reaction_s=_or(_duration(clauses.get("reaction within"), names), Fraction(0)),
        span=node.label.span,
    )


def _or(value: Fraction | None, default: Fraction) -> Fraction:
    return default if value is None else value


def _timezone(clause: tree.Clause, names: Names) -> str:
    """The name of a zone that the time zone data know."""
    from zoneinfo import ZoneInfo

    label = clause.operands[0]
    try:
        ZoneInfo(label.text)
    except (KeyError, ValueError, OSError):
        names.report.error(
            "unknown-value",
            f'"{label.text}" is no time zone',
            label.span,
            'Write one such as "Europe/London".',
        )
    return label.text


def _amount(clause: tree.Clause, number: int = 0) -> tree.Amount:
    operand = clause.operands[number]
    if isinstance(operand, tree.Label):
        raise AssertionError("places: a label where the grammar has none")
    return operand


def _name(clause: tree.Clause, number: int = 0) -> tree.Name:
    operand = clause.operands[number]
    if not isinstance(operand, tree.Name):
        raise AssertionError("places: the grammar has a name here")
    return operand


def _angle(clause: tree.Clause | None, most: int, names: Names) -> Fraction | None:
    if clause is None:
        return None
    value = names.figure(_amount(clause), Unit.ANGLE)
    if value is not None and abs(value) > most:
        names.report.error(
            "out-of-range",
            f"the {clause.words.split()[0]} angle lies between -{most} deg and {most} deg",
            _amount(clause).span,
            "North and east count up; write south and west with a minus.",
        )
        return None
    return value


def _duration(
    clause: tree.Clause | None, names: Names, *, above_zero: bool = False
) -> Fraction | None:
    return None if clause is None else names.duration(_amount(clause), above_zero=above_zero)


def _starts(clause: tree.Clause | None, fitting: tuple[str, ...], names: Names) -> str | None:
    if clause is None:
        return None
    operand = clause.operands[0]
    if isinstance(operand, tree.Name) and operand.text in fitting:
        return operand.text
    names.report.error(
        "unknown-value",
        f"`{operand.text}` does not fit after `starts` here",
        operand.span,
        f"It can be {joined(fitting)}.",
    )
    return None


# ---------------------------------------------------------------- doors


def door(node: tree.Door, name: str, names: Names) -> Door | None:
    """A door driven between two limit switches, or None if a part of it is missing or wrong."""
    clauses = once(node.clauses, names)
    missing = [words for words in ("raised by", "lowered by", "travel") if words not in clauses]
    if missing:
        names.report.error(
            "door-incomplete",
            f"the door {node.name.text} has no {joined(missing, 'and no')}",
            node.name.span,
            "A door needs `raised by LIMIT`, `lowered by LIMIT` and `travel 12 s to 20 s`.",
        )
        return None
    raised = names.point(_name(clauses["raised by"]), PointKind.LIMIT)
    lowered = names.point(_name(clauses["lowered by"]), PointKind.LIMIT)
    moving = clauses.get("moving by")
    motor = None if moving is None else names.point(_name(moving), PointKind.SWITCH)
    travel = clauses["travel"]
    least = names.duration(_amount(travel, 0), above_zero=False)
    most = names.duration(_amount(travel, 1), above_zero=True)
    starts = _starts(clauses.get("starts"), ("raised", "lowered", "anywhere"), names)
    if raised is None or lowered is None or least is None or most is None:
        return None
    if raised is lowered:
        names.report.error(
            "same-limit",
            f"{node.name.text} is raised and lowered by the same limit switch",
            _name(clauses["lowered by"]).span,
            "A door has two limit switches.",
        )
    if least > most:
        names.report.error(
            "travel-order",
            "the lower figure of `travel` is above the upper one",
            travel.span,
            f"Write `travel {_amount(travel, 1).text} to {_amount(travel, 0).text}`.",
        )
    at = cast(Literal["raised", "lowered", "anywhere"] | None, starts)
    found = Door(
        name,
        node.label.text if node.label else "",
        raised.name,
        lowered.name,
        None if motor is None else motor.name,
        least,
        most,
        at,
        node.name.span,
    )
    _check_start(found, (raised, lowered, motor), names)
    return found


def _check_start(door: Door, points: tuple[Point, Point, Point | None], names: Names) -> None:
    """Whether the door's start and those of its points can be true together."""
    raised, lowered, motor = points
    possible = {"raised": ("reached", "clear"), "lowered": ("clear", "reached")}
    if door.starts == "anywhere":
        possible["stopped"] = ("clear", "clear")
    elif door.starts is not None:
        possible = {door.starts: possible[door.starts]}
    fits = any(
        raised.starts in (None, up) and lowered.starts in (None, down)
        for up, down in possible.values()
    )
    if fits and (motor is None or motor.starts != "on"):
        return
    culprits = [
        each for each in (raised, lowered, motor) if each is not None and each.starts is not None
    ]
    at_rest = "at either limit" if door.starts is None else door.starts
    names.report.error(
        "start-contradiction",
        f"{door.name} starts at rest, {at_rest}, but "
        + " and ".join(f"{each.name} starts {each.starts}" for each in culprits),
        door.span,
        "Leave out `starts` of the points that the door sets; the door's own start decides.",
        also=tuple(Label(each.span, f"starts {each.starts}") for each in culprits),
    )


def check_doors_apart(doors: tuple[Door, ...], names: Names) -> None:
    """No switch belongs to two doors."""
    owner: dict[str, Door] = {}
    for each in doors:
        for point in dict.fromkeys((each.raised_by, each.lowered_by, each.moving_by)):
            if point is None:
                continue
            first = owner.setdefault(point, each)
            if first is not each:
                names.report.error(
                    "shared-limit",
                    f"{point} belongs to two doors, {first.name} and {each.name}",
                    each.span,
                    "Each door has switches of its own; declare another one.",
                    also=(Label(first.span, "the other door"),),
                )


# ---------------------------------------------------------------- rooms


def room(node: tree.Room, name: str, names: Names) -> Room:
    """A room with people; the doors must be known to ``names`` already."""
    clauses = once(node.clauses, names)
    entered = clauses.get("entered by")
    seen = clauses.get("seen by")
    still = clauses.get("still at most")
    noticed = clauses.get("noticed within")
    detectors = [
        names.point(operand, PointKind.DETECTOR)
        for operand in (seen.operands if seen else ())
        if isinstance(operand, tree.Name)
    ]
    for clause in (still, noticed):
        if clause is not None and seen is None:
            names.report.error(
                "room-unseen",
                f"`{clause.words}` needs a detector that sees the room",
                clause.span,
                "Write `seen by DETECTOR`.",
            )
    still_s = _duration(still, names, above_zero=True)
    noticed_s = _duration(noticed, names)
    starts = _starts(clauses.get("starts"), ("peopled", "empty"), names)
    return Room(
        name,
        node.label.text if node.label else "",
        _entries(entered, names),
        tuple(dict.fromkeys(each.name for each in detectors if each is not None)),
        still_s,
        still_s if noticed is None else noticed_s,
        cast(Literal["peopled", "empty"] | None, starts),
        node.name.span,
    )


def _entries(clause: tree.Clause | None, names: Names) -> tuple[str, ...]:
    found: list[str] = []
    for operand in clause.operands if clause else ():
        if not isinstance(operand, tree.Name):
            continue
        thing = names.find(operand, "contact or door")
        if isinstance(thing, Door) or (
            isinstance(thing, Point) and thing.kind is PointKind.CONTACT
        ):
            found.append(thing.name)
        elif thing is not None:
            names.report.error(
                "wrong-kind",
                f"{operand.text} is {kind_of(thing)}; people come in by a contact's door or a door",
                operand.span,
                "Write the name of a contact or a door.",
            )
    return tuple(dict.fromkeys(found))
