"""Families of jobs that grow with a number: the text of each, its exact bound, its refuted twin.

Each job has one requirement, ``promise``, and its bound is exact: the promise holds, and the
twin's, which is sharper by one second, fails. The bounds are worked out by hand, beside each
family; the exhaustive search agrees with them at the smallest sizes (``test_families.py``).
The shapes come from lighting practice (from memory, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Family:
    """A family of jobs.

    ``text_of(size, bound_s)`` is the job whose promise has that bound; ``bound_of(size)`` the
    sharpest bound in seconds with which the promise holds, ``sharper`` what to add to it for the
    twin. ``sizes`` are those that are measured, ``least`` the smallest that there is.
    """

    name: str
    what: str
    text_of: Callable[[int, int], str]
    bound_of: Callable[[int], int]
    sizes: tuple[int, ...]
    least: int = 1
    sharper: int = -1

    def job(self, size: int) -> str:
        """The text of the job that keeps its promise."""
        return self.text_of(size, self.bound_of(size))

    def twin(self, size: int) -> str:
        """The text of the job that breaks it."""
        return self.text_of(size, self.bound_of(size) + self.sharper)


def _numbers(size: int) -> range:
    return range(1, size + 1)


def _lines(*parts: str) -> str:
    return "\n".join(parts) + "\n"


def _off_after(events: list[str], lamp: str, bound_s: int) -> str:
    """The promise that a lamp is off within a time of the last event."""
    form = f"after last {' or '.join(events)}: {lamp} is off within {bound_s} s"
    return f"require promise\n  {form}\nend require"


def corridor(size: int, bound_s: int) -> str:
    """Detectors along a corridor, a timer each, one light.

    Each rule switches the light off 60 s after its own last detection, whatever the others do.
    So it is off 60 s after the last of all, and not before if that alone was seen.
    """
    seen = [f"motion_{n} becomes occupied" for n in _numbers(size)]
    rules = [
        f"rule walk_{n}\n  retriggerable\n  upon motion_{n} becomes occupied\n"
        "  do\n    light on\n    wait 60 s\n    light off\nend rule"
        for n in _numbers(size)
    ]
    return _lines(
        *(f'detector motion_{n} "PIR {n} in the corridor"' for n in _numbers(size)),
        'lamp light "Corridor light" 40 W',
        *rules,
        _off_after(seen, "light", bound_s),
    )


def staged(size: int, bound_s: int) -> str:
    """One detector, and light that goes down in steps: 300 s in full, then 10 s for each step."""
    steps = [f"    strip {100 - 90 * n // size} %\n    wait 10 s" for n in _numbers(size)]
    return _lines(
        'detector motion "PIR over the stairs"',
        'dimmer strip "Stair strip" 20 W',
        "rule stairs\n  retriggerable\n  upon motion becomes occupied\n  do",
        "    strip 100 %\n    wait 300 s",
        *steps,
        "    strip off\nend rule",
        _off_after(["motion becomes occupied"], "strip", bound_s),
    )


def polite(size: int, bound_s: int) -> str:
    """Rules that share a light: each leaves it on while another one is running.

    The waits differ by 10 s. Whoever ends last switches off: the longest wait after the last
    detection, if that is the one with the longest wait.
    """
    seen = [f"motion_{n} becomes occupied" for n in _numbers(size)]
    rules = []
    for n in _numbers(size):
        others = " or ".join(f"share_{m} is running" for m in _numbers(size) if m != n)
        rules.append(
            f"rule share_{n}\n  retriggerable\n  upon motion_{n} becomes occupied\n  do\n"
            f"    light on\n    wait {50 + 10 * n} s\n"
            f"    if not ({others}) then\n      light off\n    end if\nend rule"
        )
    return _lines(
        *(f'detector motion_{n} "PIR {n} in the hall"' for n in _numbers(size)),
        'lamp light "Hall light" 60 W',
        *rules,
        _off_after(seen, "light", bound_s),
    )


def waiting(size: int, bound_s: int) -> str:
    """Presses that wait their turn: 10 s of light for each, one after the other.

    With ``size`` presses waiting behind a run that has just begun, that many turns follow it.
    """
    return _lines(
        'button push "Push-button"',
        'lamp light "Sign" 12 W',
        f"rule glow\n  at once 1, waiting {size}\n  upon push pressed",
        "  do\n    light on\n    wait 10 s\n    light off\nend rule",
        _off_after(["push pressed"], "light", bound_s),
    )


def _side_by_side(size: int, promise: str) -> str:
    return _lines(
        'button push "Push-button"',
        'lamp light "Sign" 12 W',
        f"rule glow\n  at once {size}\n  upon push pressed",
        "  do\n    light on\n    wait 10 s\n    light off\nend rule",
        promise,
    )


def at_once(size: int, bound_s: int) -> str:
    """Presses that run side by side: off 10 s after the last press.

    If the last press started a run, that run's end; if it was dropped, all runs are older.
    """
    return _side_by_side(size, _off_after(["push pressed"], "light", bound_s))


def starts(size: int, bound_s: int) -> str:
    """The same rule: no more starts within the bound than may run at once.

    A place is free again after 10 s, so in 9 s (or less, first to last) none is used twice;
    in 10 s it can be. The twin's bound is a second longer.
    """
    times = f"at most {size} times in {bound_s} s: glow starts"
    return _side_by_side(size, f"require promise\n  {times}\nend require")


def chain(size: int, bound_s: int) -> str:
    """Lamps in a row, each lit for 10 s when the one before it goes off."""
    rules = []
    for n in _numbers(size):
        event = "push pressed" if n == 1 else f"lamp_{n - 1} becomes off"
        rules.append(
            f"rule pass_{n}\n  retriggerable\n  upon {event}\n"
            f"  do\n    lamp_{n} on\n    wait 10 s\n    lamp_{n} off\nend rule"
        )
    return _lines(
        'button push "Push-button"',
        *(f'lamp lamp_{n} "Step {n}" 5 W' for n in _numbers(size)),
        *rules,
        _off_after(["push pressed"], f"lamp_{size}", bound_s),
    )


def shutter(size: int, bound_s: int) -> str:
    """Roller shutters that light one bay while they move and for two minutes after.

    A motor runs for at most 20 s without a stop, and each start counts: 20 s and then 120 s.
    """
    moved = [f"motor_{n} becomes on" for n in _numbers(size)]
    points, rules = [], []
    for n in _numbers(size):
        points.append(
            f'limit up_{n} "Upper limit {n}"\nlimit down_{n} "Lower limit {n}"\n'
            f'switch motor_{n} "Motor {n} runs"\n'
            f'door shutter_{n} "Shutter {n}"\n  raised by up_{n}\n  lowered by down_{n}\n'
            f"  moving by motor_{n}\n  travel 12 s to 20 s\nend door"
        )
        rules.append(
            f"rule move_{n}\n  retriggerable\n  upon motor_{n} becomes on\n  do\n    light on\n"
            f"    wait until motor_{n} is off\n    wait 120 s\n    light off\nend rule"
        )
    return _lines(
        *points, 'lamp light "Bay light" 80 W', *rules, _off_after(moved, "light", bound_s)
    )


SHORTEST_S, LONGEST_S = 30, 7200
"""The waits of :func:`timers`: from half a minute to two hours."""


def waits_of(size: int) -> list[int]:
    """Unequal waits in seconds, evenly spaced on a logarithmic scale.

    >>> waits_of(6)
    [30, 90, 269, 804, 2406, 7200]
    """
    last = max(size - 1, 1)
    ratio = LONGEST_S / SHORTEST_S
    return [round(LONGEST_S / ratio ** ((last - n) / last)) for n in range(last + 1)][-size:]


def timers(size: int, bound_s: int) -> str:
    """Detectors with a timer each on one lamp, from a toilet's half minute to a store's two hours."""
    return timers_of(waits_of(size), bound_s)


def timers_of(waits: list[int], bound_s: int) -> str:
    """Detectors on one lamp, each with a timer of its own wait in seconds.

    As in a corridor whoever ends first switches off, so it is off when the timer of the last
    detection has run out, at the latest. That takes the longest wait if it is the longest timer's.
    """
    numbered = list(enumerate(waits, 1))
    seen = [f"motion_{n} becomes occupied" for n, _ in numbered]
    rules = [
        f"rule timer_{n}\n  retriggerable\n  upon motion_{n} becomes occupied\n"
        f"  do\n    light on\n    wait {wait} s\n    light off\nend rule"
        for n, wait in numbered
    ]
    return _lines(
        *(f'detector motion_{n} "PIR {n}"' for n, _ in numbered),
        'lamp light "Light" 40 W',
        *rules,
        _off_after(seen, "light", bound_s),
    )


HALL_RULES = 8
"""Rules of :func:`hall` beside those of its detectors."""


def hall(size: int, bound_s: int) -> str:
    """A hall of ``size`` rules: scenes, an override, sweeps, and a detector for each other rule.

    While the caretaker keeps the light on for two hours, no detector's timer switches it off;
    during a show no detector switches it on. Only detections, the two buttons and the aisle door
    switch it on, and each has a timer of two hours at most: off two hours after the last of them,
    and not before if it was kept on.
    """
    count = size - HALL_RULES
    waits = waits_of(count + 1)[:-1]
    walks = [
        f"rule walk_{n}\n  retriggerable\n  upon motion_{n} becomes occupied\n"
        f"  provided show is no{' and aisle is off' if n % 3 == 0 else ''}\n  do\n    hall on\n"
        f"    wait {wait} s\n    if kept is no then\n      hall off\n    end if\nend rule"
        for n, wait in enumerate(waits, 1)
    ]
    events = [f"motion_{n} becomes occupied" for n in range(1, count + 1)]
    events += ["work pressed", "keep pressed", "aisle_door becomes open"]
    return _lines(
        *(f'detector motion_{n} "PIR {n} in the hall"' for n in range(1, count + 1)),
        _HALL,
        *walks,
        _off_after(events, "hall", bound_s),
    )


_HALL = """\
button work "Scene: work"
button begin "Scene: the show begins"
button finish "Scene: the show is over"
button keep "Caretaker: keep it on"
contact aisle_door "Door of the aisle"
lamp hall "Hall light" 800 W
lamp stage "Stage light" 400 W
lamp aisle "Aisle light" 60 W
flag show "A show is on"
flag kept "The light is kept on"
rule work_light
  retriggerable
  upon work pressed
  do
    show no
    stage off
    hall on
    wait 90 min
    if kept is no then
      hall off
    end if
end rule
rule show_begins
  upon begin pressed
  do
    show yes
    if kept is no then
      hall off
    end if
    stage on
    aisle on
end rule
rule show_ends
  upon finish pressed
  do
    show no
    stage off
end rule
rule keep_on
  retriggerable
  upon keep pressed
  do
    kept yes
    hall on
    wait 2 h
    kept no
    hall off
end rule
rule aisle_light
  retriggerable
  upon aisle_door becomes open
  upon stage becomes off
  do
    aisle on
    wait 10 min
    if show is no then
      aisle off
    end if
end rule
rule door_light
  non-retriggerable
  upon aisle_door becomes open provided show is no
  do
    hall on
    wait 5 min
    if kept is no then
      hall off
    end if
end rule
rule late_sweep
  upon at 23:30
  do
    show no
    stage off
    aisle off
    if kept is no then
      hall off
    end if
end rule
rule night_sweep
  upon at 02:00
  do
    cancel keep_on
    kept no
    show no
    hall off
    stage off
    aisle off
end rule"""


FAMILIES: tuple[Family, ...] = (
    Family(
        "corridor",
        "n detectors with a timer each on one lamp",
        corridor,
        lambda size: 60,
        (2, 4, 8, 16, 32),
    ),
    Family(
        "staged",
        "one detector, n steps of dimming",
        staged,
        lambda size: 300 + 10 * size,
        (2, 4, 8, 16),
    ),
    Family(
        "polite",
        "n rules on one lamp, each asks whether another is running",
        polite,
        lambda size: 50 + 10 * size,
        (2, 4, 8),
        least=2,
    ),
    Family(
        "waiting",
        "`at once 1, waiting n`",
        waiting,
        lambda size: 10 * (size + 1),
        (2, 4, 8, 16),
    ),
    Family("at_once", "`at once n`", at_once, lambda size: 10, (2, 4, 8, 16)),
    Family(
        "starts",
        "`at once n`, and `at most n times`",
        starts,
        lambda size: 9,
        (2, 4, 8),
        sharper=1,
    ),
    Family(
        "chain",
        "n lamps, each triggers the next rule",
        chain,
        lambda size: 10 * size,
        (2, 4, 6, 8),
    ),
    Family(
        "timers",
        "n timers of 30 s to 2 h, a detector each, on one lamp",
        timers,
        lambda size: LONGEST_S,
        (3, 6, 12, 24),
    ),
    Family(
        "hall",
        "n rules of a hall: scenes, an override, sweeps, detectors",
        hall,
        lambda size: LONGEST_S,
        (10, 20, 40, 60),
        least=HALL_RULES,
    ),
    Family(
        "shutter",
        "n roller shutters, wait-until, one lamp",
        shutter,
        lambda size: 140,
        (1, 2, 3),
    ),
)

FAMILY: dict[str, Family] = {family.name: family for family in FAMILIES}
