"""What the names of a job stand for, and figures where a name or a figure may stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from verifier.language import tree
from verifier.model.figures import Unit, Unreadable, quantity
from verifier.model.job import Door, Point, PointKind, Room, Setting
from verifier.model.report import Report, did_you_mean, joined
from verifier.source import Span


@dataclass(frozen=True, slots=True)
class RuleName:
    """A rule, as far as its name is concerned."""

    name: str
    span: Span


Thing = Point | Door | Room | RuleName | Setting
"""What a name can stand for."""


def kind_of(thing: Thing) -> str:
    """What a thing is, in a word with its article.

    >>> kind_of(RuleName("a", Span("", 0, 0)))
    'a rule'
    """
    match thing:
        case Point():
            return f"a {thing.kind.value}"
        case Door():
            return "a door"
        case Room():
            return "a room"
        case RuleName():
            return "a rule"
        case Setting():
            return "a setting"


_SETTING_UNITS: dict[str, Unit] = {
    "duration": Unit.DURATION,
    "level": Unit.LEVEL,
    "clock time": Unit.CLOCK,
}


@dataclass(frozen=True, slots=True)
class Names:
    """All names of a job as seen from one place of it.

    ``prefix`` is that of the typical's application in which the place lies. ``broken`` holds names,
    and prefixes with their full stop, that are declared with a mistake: of them nothing more is
    said. ``used`` collects the settings that were read.
    """

    things: Mapping[str, Thing]
    report: Report
    prefix: str = ""
    broken: set[str] = field(default_factory=set)
    used: set[str] = field(default_factory=set)

    def seen_from(self, prefix: str) -> Names:
        """The same names as seen from inside an application."""
        return replace(self, prefix=prefix)

    def lookup(self, text: str) -> Thing | None:
        """What a name stands for: the nearest one, from the application outwards."""
        for name in self._readings(text):
            thing = self.things.get(name)
            if thing is not None:
                return thing
        return None

    def _readings(self, text: str) -> Iterator[str]:
        """The full names that a name can mean, the nearest first."""
        prefix = self.prefix
        while prefix:
            yield prefix + text
            prefix = prefix[: prefix.rfind(".", 0, -1) + 1]
        yield text

    def is_broken(self, text: str) -> bool:
        """Whether a name is declared, but with a mistake that was told already."""
        return any(
            name in self.broken or any(name[: dot + 1] in self.broken for dot in _dots(name))
            for name in self._readings(text)
        )

    def find(self, name: tree.Name, wanted: str = "point") -> Thing | None:
        """What a name stands for, or an error with names that are near."""
        found = self.lookup(name.text)
        if found is None and not self.is_broken(name.text):
            self.report.error(
                "unknown-name",
                f"there is no {wanted} called {name.text}",
                name.span,
                did_you_mean(
                    name.text,
                    self._visible(wanted),
                    "Declare it, or write the name of one that is.",
                ),
            )
        return found

    def _visible(self, wanted: str) -> list[str]:
        """Names as they may be written here, those of this application first; rules for a rule."""
        names = [
            name
            for name, thing in self.things.items()
            if wanted != "rule" or isinstance(thing, RuleName)
        ]
        own = [self._as_written(name) for name in names if name.startswith(self.prefix)]
        return list(dict.fromkeys([*own, *names]))

    def _as_written(self, name: str) -> str:
        """A full name as it may be written here."""
        return name.removeprefix(self.prefix)

    def point(self, name: tree.Name, *kinds: PointKind, wanted: str = "") -> Point | None:
        """The point of a name, of one of some kinds, or an error."""
        words = wanted or joined_kinds(kinds)
        found = self.find(name, words)
        if found is None:
            return None
        if isinstance(found, Point) and (not kinds or found.kind in kinds):
            return found
        fitting = [
            self._as_written(thing.name)
            for thing in self.things.values()
            if isinstance(thing, Point) and (not kinds or thing.kind in kinds)
        ]
        self.report.error(
            "wrong-kind",
            f"{name.text} is {kind_of(found)}; {article(words)} is wanted here",
            name.span,
            f"There {'is' if len(fitting) == 1 else 'are'} {joined(fitting[:6], 'and')}."
            if fitting
            else f"Declare {article(words)}.",
        )
        return None

    def rule(self, name: tree.Name) -> str | None:
        """The full name of a rule, or an error."""
        found = self.find(name, "rule")
        if isinstance(found, RuleName) or found is None:
            return None if found is None else found.name
        rules = [thing.name for thing in self.things.values() if isinstance(thing, RuleName)]
        self.report.error(
            "wrong-kind",
            f"{name.text} is {kind_of(found)}; a rule is wanted here",
            name.span,
            did_you_mean(name.text, rules, "Write the name of a rule."),
        )
        return None

    # ------------------------------------------------------------ figures

    def duration(self, amount: tree.Amount, *, above_zero: bool) -> Fraction | None:
        """A duration in seconds, or an error."""
        value = self.figure(amount, Unit.DURATION)
        if value is None:
            return None
        if value < 0 or (above_zero and value == 0):
            self.report.error(
                "out-of-range",
                f"a duration here must be {'above 0' if above_zero else '0 s or more'}",
                amount.span,
                "Write `5 s`, or leave it out if no time is to pass.",
            )
            return None
        return value

    def level(self, amount: tree.Amount, *, settable: bool) -> Fraction | None:
        """A level in per cent, or an error; ``settable``: one that a dimmer can have."""
        value = self.figure(amount, Unit.LEVEL)
        if value is None:
            return None
        if not 0 <= value <= 100:
            self.report.error(
                "out-of-range",
                "a level lies between 0 % and 100 %",
                amount.span,
                "Write `100 %` for full light.",
            )
            return None
        if settable and 0 < value < 1:
            self.report.error(
                "out-of-range",
                f"this level is {float(value):g} %; a dimmer can be off or at 1 % to 100 %",
                amount.span,
                "Write `1 %` (`level 86 of 254`) for the least light, or `off`.",
            )
            return None
        return value

    def clock(self, amount: tree.Amount) -> int | None:
        """A clock time in seconds since midnight, or an error."""
        value = self.figure(amount, Unit.CLOCK)
        return None if value is None else int(value)

    def figure(self, amount: tree.Amount, unit: Unit) -> Fraction | None:
        """The value of a figure or setting of the wanted unit, or an error that says what fits."""
        if isinstance(amount, tree.Name):
            return self._setting(amount, unit)
        found = quantity(amount.text)
        if isinstance(found, Unreadable):
            self.report.error("bad-figure", found.message, amount.span, found.hint)
            return None
        if found.unit is unit:
            return found.value
        hint = f"Write {unit.example}."
        if found.unit is Unit.NUMBER:
            hint = _with_unit(amount.text, unit)
            self.report.error("unit-missing", f"`{amount.text}` has no unit", amount.span, hint)
        else:
            self.report.error(
                "wrong-unit",
                f"`{amount.text}` is {found.unit.value}; {unit.value} is wanted here",
                amount.span,
                hint,
            )
        return None

    def _setting(self, name: tree.Name, unit: Unit) -> Fraction | None:
        found = self.lookup(name.text)
        if found is None and self.is_broken(name.text):
            return None
        if isinstance(found, Setting):
            self.used.add(found.name)
            if _SETTING_UNITS[found.kind] is unit:
                return found.value
            self.report.error(
                "wrong-unit",
                f"{name.text} is a setting for a {found.kind}; {unit.value} is wanted here",
                name.span,
                f"Write {unit.example}, or a setting with such a value.",
            )
            return None
        if found is not None:
            self.report.error(
                "wrong-kind",
                f"{name.text} is {kind_of(found)}; {unit.value} is wanted here",
                name.span,
                f"Write {unit.example}.",
            )
            return None
        settings = [thing.name for thing in self.things.values() if isinstance(thing, Setting)]
        self.report.error(
            "unknown-name",
            f"there is no setting called {name.text}; {unit.value} is wanted here",
            name.span,
            did_you_mean(name.text, settings, f"Write {unit.example}."),
        )
        return None

    def count(self, figure: tree.Figure, least: int, most: int, what: str) -> int | None:
        """A whole number between two bounds, or an error."""
        found = quantity(figure.text)
        if (
            isinstance(found, Unreadable)
            or found.unit is not Unit.NUMBER
            or found.value.denominator != 1
        ):
            self.report.error(
                "out-of-range",
                f"{what} must be a whole number",
                figure.span,
                f"Write `{max(least, 1)}`.",
            )
            return None
        if not least <= found.value <= most:
            self.report.error(
                "out-of-range",
                f"{what} must lie between {least} and {most}",
                figure.span,
                f"Write a number from {least} to {most}.",
            )
            return None
        return int(found.value)


def _dots(name: str) -> Iterator[int]:
    """Where the full stops of a name stand."""
    return (at for at, letter in enumerate(name) if letter == ".")


def _with_unit(text: str, unit: Unit) -> str:
    match unit:
        case Unit.DURATION:
            return f"Write `{text} s` or `{text} min`."
        case Unit.LEVEL:
            return f"Write `{text} %`."
        case Unit.POWER:
            return f"Write `{text} W`."
        case Unit.ANGLE:
            return f"Write `{text} deg`."
        case _:
            return f"Write {unit.example}."


def joined_kinds(kinds: tuple[PointKind, ...]) -> str:
    """Kinds of point as words: ``limit``, ``contact or limit``."""
    words = [kind.value for kind in kinds]
    if not words:
        return "point"
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def article(words: str) -> str:
    """Words with their indefinite article.

    >>> article("input"), article("limit")
    ('an input', 'a limit')
    """
    return f"an {words}" if words[0] in "aeiou" else f"a {words}"
