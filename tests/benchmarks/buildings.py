"""Whole jobs that grow with the number of their rooms: the text of each.

``house`` is one of a kind: no two lamps are driven by the same figures. ``building`` is made of
typicals, ``by_hand`` has every room written out with figures of its own, so that no two slices
are alike. All are put together from the same parts (:class:`Part`), each a way to light a room
with what is promised of it. Every promise holds, and its bound is the figure of the rule.
The shapes come from lighting practice (from memory, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import count

RULES_OF_A_ROOM = 5
PROMISES_OF_A_ROOM = 4


@dataclass(frozen=True, slots=True)
class Part:
    """The lines of one way to light something: what is fitted, what it does, what is promised."""

    points: tuple[str, ...]
    rules: tuple[str, ...]
    promises: tuple[str, ...]


def _rule(name: str, policy: str, heads: Iterable[str], body: Iterable[str]) -> str:
    lines = [
        f"rule {name}",
        *([f"  {policy}"] if policy else []),
        *(f"  {head}" for head in heads),
        "  do",
        *(f"    {statement}" for statement in body),
        "end rule",
    ]
    return "\n".join(lines)


def _promise(name: str, form: str) -> str:
    return f"require {name}\n  {form}\nend require"


def _timed(name: str, upon: str, body: Iterable[str]) -> str:
    return _rule(name, "retriggerable", [f"upon {upon}"], body)


# ---------------------------------------------------------------- ways to light something


def walk(room: str, wait_s: int) -> Part:
    """Light for a while from the last time that somebody was seen: one rule, two promises."""
    seen = f"{room}_pir becomes occupied"
    light = f"{room}_light"
    return Part(
        (f'detector {room}_pir "PIR"', f'lamp {light} "Light" 18 W'),
        (_timed(f"{room}_walk", seen, [f"{light} on", f"wait {wait_s} s", f"{light} off"]),),
        (
            _promise(f"{room}_off", f"after last {seen}: {light} is off within {wait_s} s"),
            _promise(f"{room}_lit", f"when {seen}: {light} is on within 0 s"),
        ),
    )


def staged(room: str, wait_s: int) -> Part:
    """Full light, then a warning, then dark, and a button for out: two rules, two promises."""
    seen, out = f"{room}_pir becomes occupied", f"{room}_out pressed"
    strip = f"{room}_strip"
    down = [f"{strip} 100 %", f"wait {wait_s} s", f"{strip} 40 %", "wait 20 s", f"{strip} off"]
    return Part(
        (
            f'detector {room}_pir "PIR"',
            f'button {room}_out "Out"',
            f'dimmer {strip} "Strip" 24 W',
        ),
        (
            _timed(f"{room}_stay", seen, down),
            _rule(f"{room}_dark", "", [f"upon {out}"], [f"cancel {room}_stay", f"{strip} off"]),
        ),
        (
            _promise(f"{room}_off", f"after last {seen}: {strip} is off within {wait_s + 20} s"),
            _promise(f"{room}_out_now", f"when {out}: {strip} is off within 0 s"),
        ),
    )


def held(room: str, wait_s: int) -> Part:
    """The same as ``walk``, and a hand switch that comes first: three rules, two promises."""
    seen, hand = f"{room}_pir becomes occupied", f"{room}_hand"
    light, busy = f"{room}_light", f"{room}_busy"
    return Part(
        (
            f'detector {room}_pir "PIR"',
            f'switch {hand} "Hand switch" starts off',
            f'lamp {light} "Light" 36 W',
            f'flag {busy} "Held by hand"',
        ),
        (
            _rule(
                f"{room}_walk",
                "retriggerable",
                [f"upon {seen}", f"provided {busy} is no"],
                [f"{light} on", f"wait {wait_s} s", f"{light} off"],
            ),
            _rule(
                f"{room}_hold",
                "",
                [f"upon {hand} becomes on"],
                [f"{busy} yes", f"cancel {room}_walk", f"{light} on"],
            ),
            _rule(
                f"{room}_let_go", "", [f"upon {hand} becomes off"], [f"{busy} no", f"{light} off"]
            ),
        ),
        (
            _promise(f"{room}_held", f"always: {hand} is on implies {light} is on"),
            _promise(
                f"{room}_off",
                f"after last {seen} or {hand} becomes off: "
                f"{light} is off or {hand} is on within {wait_s} s",
            ),
        ),
    )


def pushed(room: str, wait_s: int) -> Part:
    """A push-button for on and off, and off if it is forgotten: two rules, two promises."""
    light = f"{room}_lamp"
    return Part(
        (f'button {room}_push "Push-button"', f'lamp {light} "Lamp" 12 W'),
        (
            _rule(
                f"{room}_turn",
                "",
                [f"upon {room}_push pressed"],
                [f"if {light} is on then", f"  {light} off", "else", f"  {light} on", "end if"],
            ),
            _rule(
                f"{room}_forgotten",
                "",
                [f"upon {light} has stayed on for {wait_s} s"],
                [f"{light} off"],
            ),
        ),
        (
            _promise(f"{room}_not_for_ever", f"no longer than {wait_s} s: {light} is on"),
            _promise(f"{room}_ends", f"every trigger of {room}_forgotten leads to {light} is off"),
        ),
    )


def aired(room: str, wait_s: int) -> Part:
    """Light as in ``walk``, and a fan that runs on after it: three rules, two promises."""
    light, fan = f"{room}_light", f"{room}_fan"
    seen = f"{room}_pir becomes occupied"
    return Part(
        (
            f'detector {room}_pir "PIR"',
            f'lamp {light} "Light" 36 W',
            f'load {fan} "Extractor fan" 25 W',
        ),
        (
            _timed(f"{room}_walk", seen, [f"{light} on", f"wait {wait_s} s", f"{light} off"]),
            _rule(f"{room}_air", "", [f"upon {light} has stayed on for 60 s"], [f"{fan} on"]),
            _rule(
                f"{room}_aired", "", [f"upon {light} has stayed off for {wait_s} s"], [f"{fan} off"]
            ),
        ),
        (
            _promise(
                f"{room}_fan_off",
                f"after last {light} becomes off: {fan} is off or {light} is on within {wait_s} s",
            ),
            _promise(f"{room}_off", f"after last {seen}: {light} is off within {wait_s} s"),
        ),
    )


def stairs(room: str, wait_s: int) -> Part:
    """A detector at each end, and a button for out: three rules, two promises.

    Whichever end was passed last, the light is on for that end's time; whoever ends while the
    other one is running leaves the light on.
    """
    low, high = f"{room}_low becomes occupied", f"{room}_high becomes occupied"
    light, out = f"{room}_light", f"{room}_out pressed"

    def end(name: str, seen: str, seconds: int, other: str) -> str:
        down = [f"if not {other} is running then", f"  {light} off", "end if"]
        return _timed(name, seen, [f"{light} on", f"wait {seconds} s", *down])

    return Part(
        (
            f'detector {room}_low "PIR below"',
            f'detector {room}_high "PIR above"',
            f'button {room}_out "Out"',
            f'lamp {light} "Light" 40 W',
        ),
        (
            end(f"{room}_up", low, wait_s, f"{room}_down"),
            end(f"{room}_down", high, wait_s + 15, f"{room}_up"),
            _rule(
                f"{room}_dark",
                "",
                [f"upon {out}"],
                [f"cancel {room}_up", f"cancel {room}_down", f"{light} off"],
            ),
        ),
        (
            _promise(
                f"{room}_off", f"after last {low} or {high}: {light} is off within {wait_s + 15} s"
            ),
            _promise(f"{room}_out_now", f"when {out}: {light} is off within 0 s"),
        ),
    )


def outdoor(place: str, wait_s: int) -> Part:
    """On at nightfall, off late in the evening, and by day for certain: three rules, one promise.

    Late is half as many minutes before midnight as ``wait_s`` has seconds.
    """
    light = f"{place}_light"
    late = 24 * 60 - wait_s // 2
    return Part(
        (f'lamp {light} "Light outside" 9 W',),
        (
            _rule(f"{place}_nightfall", "", ["upon night begins"], [f"{light} on"]),
            _rule(f"{place}_late", "", [f"upon at {late // 60}:{late % 60:02}"], [f"{light} off"]),
            _rule(f"{place}_morning", "", ["upon day begins"], [f"{light} off"]),
        ),
        (_promise(f"{place}_by_day", f"always: day implies {light} is off"),),
    )


def sign(room: str) -> Part:
    """A switch and the sign that shows it: two rules, and nothing is promised."""
    show, shown = f"{room}_in_use", f"{room}_sign"
    return Part(
        (f'switch {show} "In use"', f'lamp {shown} "Sign" 3 W'),
        tuple(
            _rule(
                f"{room}_sign_{value}", "", [f"upon {show} becomes {value}"], [f"{shown} {value}"]
            )
            for value in ("on", "off")
        ),
        (),
    )


# ---------------------------------------------------------------- the house

_Way = Callable[[str, int], Part]

HOUSE: tuple[tuple[_Way, tuple[str, ...]], ...] = (
    (walk, ("hall", "landing", "pantry", "cellar")),
    (staged, ("parlour", "dining", "library", "music")),
    (held, ("study", "workshop", "nursery", "sewing", "guest")),
    (pushed, ("north_bed", "south_bed", "attic_bed", "box_room", "boot_room")),
    (aired, ("bath", "shower")),
    (stairs, ("main_stair", "back_stair")),
    (outdoor, ("drive", "terrace", "orchard")),
)
"""The places of the house, by the way they are lit."""

NOT_ASKED = ("bath_off", "shower_off")
"""What the house does not promise."""


def house() -> str:
    """The job of a house: 60 rules, 45 requirements, 25 lamps, no two with the same figures.

    A switch at the door puts out what a person may have left on: it has to do with half of it.
    """
    figures = count(91, 7)
    parts = [way(place, next(figures)) for way, places in HOUSE for place in places]
    left_on = [f"{place}_light off" for place in HOUSE[0][1]]
    left_on += [f"{place}_lamp off" for place in HOUSE[3][1]]
    door = Part(
        ('switch away "Everyone is out"', 'flag nobody "Nobody at home"'),
        (
            _rule("leave", "", ["upon away becomes on"], ["nobody yes", *left_on]),
            _rule("come_back", "", ["upon away becomes off"], ["nobody no"]),
        ),
        (),
    )
    text = _text([*parts, door])
    for name in NOT_ASKED:
        begin = text.index(f"require {name}\n")
        end = text.index("end require\n", begin) + len("end require\n")
        text = text[:begin] + text[end:]
    return text


# ---------------------------------------------------------------- rooms


def room(number: int, name: str, wait_s: int) -> tuple[Part, ...]:
    """A room of the shape of its number: five rules and four promises."""
    match number % 4:
        case 0:
            return (walk(name, wait_s), walk(f"{name}_far", wait_s + 33), *_with_sign(name, wait_s))
        case 1:
            return (held(name, wait_s), pushed(name, 2 * wait_s))
        case 2:
            return (aired(name, wait_s), staged(f"{name}_desk", wait_s + 60))
        case _:
            return (stairs(name, wait_s), staged(f"{name}_landing", wait_s + 45))


def _with_sign(name: str, wait_s: int) -> tuple[Part, ...]:
    """A light that a button asks for, made of one rule without a promise, and a sign."""
    glow = [f"{name}_glow on", f"wait {wait_s + 45} s", f"{name}_glow off"]
    return (
        Part(
            (f'button {name}_push "Push-button"', f'lamp {name}_glow "Night light" 2 W'),
            (_timed(f"{name}_ask", f"{name}_push pressed", glow),),
            (),
        ),
        sign(name),
    )


def typical(kind: int) -> str:
    """A kind of room as a typical; its time is a setting where nothing is added to it."""
    body = _text(room(kind, "here", 120 + 10 * kind))
    lines = "\n".join(f"  {line}" if line else line for line in body.rstrip("\n").split("\n"))
    return f"typical kind_{kind}\n{lines}\nend typical\n"


def building(kinds: int, rooms: int) -> str:
    """The job of a building: so many kinds of room, each a typical applied to so many rooms."""
    applied = (
        f"apply kind_{kind} to {', '.join(f'room_{kind}_{n}' for n in range(rooms))}\n"
        for kind in range(kinds)
    )
    return "\n".join([*(typical(kind) for kind in range(kinds)), *applied])


def by_hand(rooms: int, first: int = 0) -> str:
    """The job of a building whose rooms are all written out, from number ``first`` on.

    No two rooms have a figure in common, so no two slices are alike.
    """
    return _text(_all_rooms(range(first, first + rooms)))


def _all_rooms(numbers: Iterable[int]) -> Iterator[Part]:
    for number in numbers:
        yield from room(number, f"room_{number}", 61 + number)


def files(rooms: int, in_one: int = 200) -> tuple[tuple[str, str], ...]:
    """The same building in files of so many rooms, each with its name (a file has a limit)."""
    return tuple(
        (f"floor_{first // in_one:03}.dusk", by_hand(min(in_one, rooms - first), first))
        for first in range(0, rooms, in_one)
    )


def edited(text: str) -> str:
    """The text with one line changed: the first wait is a second shorter, so the promises hold."""
    begin = text.index("wait ") + len("wait ")
    end = text.index(" s", begin)
    return f"{text[:begin]}{int(text[begin:end]) - 1}{text[end:]}"


def _text(parts: Iterable[Part]) -> str:
    return "".join(
        "\n".join((*part.points, *part.rules, *part.promises)) + "\n\n" for part in parts
    )
