"""A first job from a few answers: points, one rule (two by night), and what must never happen."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from verifier.language.layout import format_text
from verifier.language.lexer import RESERVED
from verifier.model.words import duration
from verifier.source import SourceFile, Sources

What = Literal["detector", "contact", "button"]
"""What sets the light going."""

Never = Literal["dark", "left on", "by day", "sudden"]
"""What must never happen."""

WHAT: dict[What, str] = {
    "detector": "a detector that sees people",
    "contact": "the contact of a door",
    "button": "a push-button",
}

NEVER: dict[Never, str] = {
    "dark": "that it is dark for somebody who needs the light",
    "left on": "that the light is left on for longer than that",
    "by day": "that it is on by day",
    "sudden": "that it goes dark without a warning",
}

INPUTS: dict[What, str] = {
    "detector": "Movement detector",
    "contact": "Front door",
    "button": "Push-button",
}
"""What the input is called if nobody says otherwise."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was answered. ``power`` is as the language writes it, or empty."""

    place: str = "Entrance hall"
    what: What = "detector"
    input: str = INPUTS["detector"]
    light: str = "Hall light"
    power: str = ""
    dimmable: bool = False
    by_night: bool = False
    stays_on_s: Fraction = Fraction(300)
    warning_s: Fraction = Fraction(20)
    warning_percent: int = 40
    never: tuple[Never, ...] = tuple(NEVER)


def nevers_of(answers: Answers) -> tuple[Never, ...]:
    """What can be asked for, as things are fitted."""
    left_out = {"by day": not answers.by_night, "sudden": not answers.dimmable}
    return tuple(each for each in NEVER if not left_out.get(each))


def first_job(answers: Answers) -> Sources:
    """The texts of the job, each in its canonical layout."""
    text = _Text(answers)
    files = {
        "points.dusk": text.points(),
        "requirements.dusk": text.requirements(),
        "rules.dusk": text.rules(),
    }
    laid = {name: format_text(SourceFile(name, written)) for name, written in files.items()}
    if any(problems for _, problems in laid.values()):
        raise AssertionError("first job: a text that cannot be read")
    return Sources(tuple(SourceFile(name, written) for name, (written, _) in laid.items()))


def name_of(label: str, otherwise: str, taken: frozenset[str] = frozenset()) -> str:
    """A name for what has that label: ``Hall light`` becomes ``hall_light``.

    >>> name_of("Lampe für Gäste", "light"), name_of("2nd door", "door"), name_of("Night", "light")
    ('lampe_fur_gaste', 'door_2nd_door', 'light_night')
    """
    plain = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:30].strip("_")
    if not name:
        name = otherwise
    elif not name[0].isalpha() or name in RESERVED:
        name = f"{otherwise}_{name}"
    number = 2
    while name in taken:
        name, number = f"{name.rstrip('0123456789_')}_{number}", number + 1
    return name


class _Text:
    """The texts of one job."""

    def __init__(self, answers: Answers) -> None:
        self.a = answers
        self.input = name_of(answers.input, "input")
        self.light = name_of(answers.light, "light", frozenset({self.input}))
        points = frozenset({self.input, self.light})
        self.run = name_of(f"{self.light}_run", "run", points)
        self.dawn = name_of("off_by_day", "dawn", points | {self.run})
        taken = points | {self.run, self.dawn}
        self.run_on = name_of("run_on", "time", taken)
        self.warning = name_of("warning", "time", taken | {self.run_on})
        self.full = "100 %" if answers.dimmable else "on"

    def points(self) -> str:
        """What is fitted."""
        a = self.a
        kind = "dimmer" if a.dimmable else "lamp"
        lines = [
            f"# {a.place}: what is fitted, and how long.\n",
            f'{a.what} {self.input} "{a.input}"{" starts vacant" if a.what == "detector" else ""}',
            f'{kind} {self.light} "{a.light}" {a.power}\n',
            f"setting {self.run_on} {duration(a.stays_on_s)}  # full light after the last reason for it",
        ]
        if a.dimmable:
            lines.append(
                f"setting {self.warning} {duration(a.warning_s)}  # at the lower level before it goes dark"
            )
        return "".join(f"{line}\n" for line in lines)

    # ------------------------------------------------------------ what it does

    def rules(self) -> str:
        """What the controller does."""
        a = self.a
        provided = " provided night" if a.by_night else ""
        lines = [
            f"# {a.place}: what it does.\n",
            f'rule {self.run} "{a.light}: on, and off again after a time"',
            "retriggerable",
            f"upon {self._reason()}{provided}",
        ]
        if a.by_night and a.what != "button":
            state = "occupied" if a.what == "detector" else "open"
            lines.append(f"upon night begins provided {self.input} is {state}")
        lines += ["do", f"{self.light} {self.full}", self._wait()]
        if a.dimmable:
            lines += [f"{self.light} {a.warning_percent} %", f"wait {self.warning}"]
        lines += [f"{self.light} off", "end rule"]
        if a.by_night:
            lines += [
                f'\nrule {self.dawn} "{a.light}: off when day begins"',
                "upon day begins",
                "do",
                f"cancel {self.run}",
                f"{self.light} off",
                "end rule",
            ]
        return "".join(f"{line}\n" for line in lines)

    def _reason(self) -> str:
        word = {"detector": "becomes occupied", "contact": "changes", "button": "pressed"}
        return f"{self.input} {word[self.a.what]}"

    def _wait(self) -> str:
        if self.a.what == "detector":
            return f"wait until {self.input} has stayed vacant for {self.run_on}"
        return f"wait {self.run_on}"

    # ------------------------------------------------------------ what must hold

    def requirements(self) -> str:
        """What was promised."""
        a = self.a
        lines = [f"# {a.place}: what must hold.\n"]
        for never in a.never:
            if never in nevers_of(a):
                lines += self._requirement(never)
        return "".join(f"{line}\n" for line in lines)

    def _requirement(self, never: Never) -> list[str]:
        a = self.a
        scope = ["while night:"] if a.by_night else []
        match never:
            case "dark" if a.what == "detector":
                seen = f"{self.input} is occupied"
                seen = f"(night and {seen})" if a.by_night else seen
                name, title = "never_dark", "Never dark while somebody is seen"
                form = [f"always: {seen} implies {self.light} is on"]
            case "dark":
                reason = "becomes open" if a.what == "contact" else "pressed"
                every = "opening" if a.what == "contact" else "press"
                name = "light_enough"
                title = f"Light for at least {duration(a.stays_on_s)} from every {every}"
                form = [
                    *scope,
                    f"when {self.input} {reason}: {self.light} is on for at least {self.run_on}",
                ]
            case "left on":
                name, title = "not_left_on", f"Off after {duration(self._total_s())} at the latest"
                form = [self._not_left_on()]
            case "by day":
                name, title = "off_by_daylight", "Never on by day"
                form = [f"never: day and {self.light} is on"]
            case "sudden":
                name, title = "warned", f"Dimmed for {duration(a.warning_s)} before it goes dark"
                low = f"{self.light} at most {a.warning_percent} %"
                form = [
                    *scope,
                    f"before {self.light} becomes off: {low} for at least {self.warning}",
                ]
        return [f'require {name} "{title}"', *form, "end require", ""]

    def _total_s(self) -> Fraction:
        return self.a.stays_on_s + (self.a.warning_s if self.a.dimmable else 0)

    def _not_left_on(self) -> str:
        total = duration(self._total_s()) if self.a.dimmable else self.run_on
        if self.a.what == "detector":
            return f"no longer than {total}: {self.input} is vacant and {self.light} is on"
        night = " or night begins" if self.a.by_night and self.a.what == "contact" else ""
        return f"after last {self._reason()}{night}: {self.light} is off within {total}"
