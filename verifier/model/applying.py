"""Typicals applied: a file's declarations with those that each ``apply`` stands for.

Before: ``typical landing … lamp light … end typical``, ``apply landing to floor_1``.
After: the lamp placed with the prefix ``floor_1.``; its names are looked up from there outwards.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.model.figures import quantity
from verifier.model.report import Report, did_you_mean, joined

PLACES_LIMIT = 200_000
"""Declarations and applications that applying may bring forth."""

DEPTH_LIMIT = 20
"""How deep a typical may be applied inside others."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A declaration and the prefix that its names get (empty, or ending in a full stop)."""

    declaration: tree.Declaration
    prefix: str


def applied(
    declarations: Iterable[tree.Declaration], report: Report
) -> tuple[tuple[Placed, ...], frozenset[str]]:
    """All declarations in order, typicals replaced by what was made of them.

    The prefixes beside them are those under which nothing stands because of a mistake.
    """
    top = tuple(declarations)
    typicals: dict[str, tree.Typical] = {}
    for declaration in top:
        if isinstance(declaration, tree.Typical):
            first = typicals.setdefault(declaration.name.text, declaration)
            if first is not declaration:
                report.error(
                    "duplicate-name",
                    f"there are two typicals called {declaration.name.text}",
                    declaration.name.span,
                    "Give one of them another name.",
                    also=(Label(first.name.span, "the first one"),),
                )
    for typical in typicals.values():
        for inner in typical.declarations:
            if isinstance(inner, tree.Site | tree.Standard | tree.Typical):
                _not_in_typical(inner, report)
    applying = _Applying(typicals, report)
    for declaration in top:
        applying.place(declaration, "", ())
    for name, typical in typicals.items():
        if name not in applying.used and not report.has_errors:
            report.warning(
                "typical-not-applied",
                f"the typical {name} is never applied, so nothing in it is checked or proved",
                typical.name.span,
                f"Write `apply {name} to NAME`.",
            )
    return tuple(applying.placed), frozenset(applying.failed)


def _not_in_typical(inner: tree.Site | tree.Standard | tree.Typical, report: Report) -> None:
    match inner:
        case tree.Site():
            what = "site"
        case tree.Standard():
            what = "standard requirement"
        case _:
            what = "typical"
    report.error(
        "not-in-typical",
        f"a {what} cannot stand in a typical",
        inner.label.span if isinstance(inner, tree.Site) else inner.name.span,
        "Move it out, to the job around the typical.",
    )


class _Applying:
    def __init__(self, typicals: dict[str, tree.Typical], report: Report) -> None:
        self.placed: list[Placed] = []
        self.used: set[str] = set()
        self.failed: set[str] = set()
        self._count = 0
        self._typicals = typicals
        self._report = report
        self._names: dict[str, tree.Name] = {}

    def place(self, declaration: tree.Declaration, prefix: str, inside: tuple[str, ...]) -> None:
        match declaration:
            case tree.Typical():
                pass
            case tree.Apply():
                if self._has_room(declaration, f"{prefix}{declaration.names[0].text}."):
                    self._apply(declaration, prefix, inside)
            case tree.Site() | tree.Standard() if inside:
                pass
            case _:
                if self._has_room(declaration, prefix):
                    self.placed.append(Placed(declaration, prefix))

    def _has_room(self, declaration: tree.Declaration, prefix: str) -> bool:
        """Whether one more can be placed; the first that cannot is reported."""
        self._count += 1
        if self._count <= PLACES_LIMIT:
            return True
        if self._count == PLACES_LIMIT + 1:
            self._report.error(
                "job-too-large",
                f"the job has more than {PLACES_LIMIT:,} declarations with typicals applied",
                declaration.span,
                "Prove it in parts, one folder each.",
            )
        self.failed.add(prefix)
        return False

    def _apply(self, apply: tree.Apply, prefix: str, inside: tuple[str, ...]) -> None:
        name = apply.typical.text
        typical = self._typicals.get(name)
        if self._is_wrong(apply, typical, inside):
            self.failed.update(f"{prefix}{at.text}." for at in apply.names)
        elif typical is not None:
            self._apply_to_all(apply, typical, prefix, inside)

    def _is_wrong(
        self, apply: tree.Apply, typical: tree.Typical | None, inside: tuple[str, ...]
    ) -> bool:
        """Whether the typical is not there or would be applied inside itself."""
        name = apply.typical.text
        if typical is None:
            otherwise = (
                f"The typicals are {joined(self._typicals, 'and')}."
                if self._typicals
                else "Write one: `typical NAME … end typical`."
            )
            self._report.error(
                "unknown-name",
                f"there is no typical called {name}",
                apply.typical.span,
                did_you_mean(name, self._typicals, otherwise),
            )
            return True
        self.used.add(name)
        if name in inside:
            self._report.error(
                "typical-in-itself",
                f"the typical {name} is applied inside itself",
                apply.typical.span,
                "Take this `apply` out of it.",
            )
            return True
        if len(inside) >= DEPTH_LIMIT:
            self._report.error(
                "job-too-large",
                f"typicals are applied more than {DEPTH_LIMIT} deep",
                apply.typical.span,
                "Put the declarations of the inner typicals into fewer, larger ones.",
            )
            return True
        return False

    def _apply_to_all(
        self, apply: tree.Apply, typical: tree.Typical, prefix: str, inside: tuple[str, ...]
    ) -> None:
        name = typical.name.text
        overrides = self._overrides(apply, typical)
        for at in apply.names:
            if "." in at.text:
                self._report.error(
                    "dotted-name",
                    f"{at.text} cannot be given as a name: full stops come from applying typicals",
                    at.span,
                    f"Write `{at.text.replace('.', '_')}`.",
                )
                continue
            whole = f"{prefix}{name} {prefix}{at.text}"
            before = self._names.setdefault(whole, at)
            if before is not at:
                self._report.error(
                    "duplicate-name",
                    f"{name} is applied to {at.text} twice",
                    at.span,
                    "Take one of them out.",
                    also=(Label(before.span, "the first time"),),
                )
                continue
            for declaration in typical.declarations:
                changed = declaration
                if isinstance(declaration, tree.Setting) and declaration.name.text in overrides:
                    figure = overrides[declaration.name.text]
                    changed = tree.Setting(declaration.name, figure, declaration.span)
                self.place(changed, f"{prefix}{at.text}.", (*inside, name))

    def _overrides(self, apply: tree.Apply, typical: tree.Typical) -> dict[str, tree.Figure]:
        settings = {
            each.name.text: each for each in typical.declarations if isinstance(each, tree.Setting)
        }
        found: dict[str, tree.Figure] = {}
        given: dict[str, tree.Name] = {}
        for override in apply.overrides:
            name = override.setting.text
            setting = settings.get(name)
            if setting is None:
                otherwise = (
                    f"Its settings are {joined(settings, 'and')}."
                    if settings
                    else "It has no settings."
                )
                self._report.error(
                    "unknown-name",
                    f"the typical {typical.name.text} has no setting called {name}",
                    override.setting.span,
                    did_you_mean(name, settings, otherwise),
                )
                continue
            first = given.setdefault(name, override.setting)
            if first is not override.setting:
                self._report.error(
                    "given-twice",
                    f"{name} is given twice",
                    override.setting.span,
                    "Take one of them out.",
                    also=(Label(first.span, "the first time"),),
                )
            if self._has_same_unit(setting, override):
                found[name] = override.figure
        return found

    def _has_same_unit(self, setting: tree.Setting, override: tree.Override) -> bool:
        """Whether the new figure is what the old one is; if not, that is reported."""
        was, now = quantity(setting.figure.text), quantity(override.figure.text)
        was_unit, now_unit = getattr(was, "unit", None), getattr(now, "unit", None)
        if was_unit is None or now_unit is None or was_unit is now_unit:
            return True
        self._report.error(
            "wrong-unit",
            f"`{override.figure.text}` is {now_unit.value}, but {setting.name.text} is {was_unit.value}",
            override.figure.span,
            f"Write {was_unit.example}.",
            also=(Label(setting.figure.span, was_unit.value),),
        )
        return False
