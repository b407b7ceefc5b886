"""Standard requirements: what is wrong with one, and what a claim of one says of a job.

Before: ``require bay_off as off_after_vacancy with light bay, detectors pir_1 and pir_2``.
After: the standard's form with ``light`` as ``bay``, ``all of detectors is vacant`` as
``(pir_1 is vacant and pir_2 is vacant)``, checked like one that was written by hand.
Every place in it is one of the job's line, so that nothing points into the library.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.diagnostics import Label
from verifier.language import tree
from verifier.language.formatter import fault_text, scoped_text
from verifier.model import job, requirements
from verifier.model.figures import Quantity, Unit, quantity
from verifier.model.filling import Given, fill, names_in
from verifier.model.job import Door, FaultKind, Point, PointKind, Room, Setting
from verifier.model.names import Names, RuleName, Thing, article, kind_of
from verifier.model.report import Report, did_you_mean, joined

FIGURE_KINDS = {"duration": Unit.DURATION, "level": Unit.LEVEL, "clock": Unit.CLOCK}
"""Kinds of parameter that take a figure or a setting."""

THING_KINDS = (*(kind.value for kind in PointKind), "door", "room", "rule")
"""Kinds of parameter that take the name of something."""

VALUE_KIND = "value"
"""The kind of a parameter that takes a value, as it stands after ``is``."""


# ---------------------------------------------------------------- a claim


@dataclass(frozen=True, slots=True)
class Library:
    """The standard requirements that a job can claim, by name, and what it considers.

    ``broken`` are the names of those with a mistake that was told already.
    """

    standards: Mapping[str, tree.Standard]
    broken: Collection[str]
    faults: Collection[job.Fault]


def claim(node: tree.Claim, name: str, names: Names, library: Library) -> job.Requirement | None:
    """The requirement that a claim stands for, or None if something in it is wrong."""
    standard = library.standards.get(node.standard.text)
    if standard is None:
        names.report.error(
            "unknown-name",
            f"there is no standard requirement called {node.standard.text}",
            node.standard.span,
            did_you_mean(
                node.standard.text,
                library.standards,
                "`duskproof standard` lists them.",
            ),
        )
        return None
    if node.standard.text in library.broken:
        return None
    inner = Report()
    found = _claimed(node, standard, name, replace(names, report=inner), library.faults)
    _tell(inner, names.report, node, standard)
    return found


def _claimed(
    node: tree.Claim,
    standard: tree.Standard,
    name: str,
    names: Names,
    faults: Collection[job.Fault],
) -> job.Requirement | None:
    given = _given(node, standard, names)
    if given is None:
        return None
    scoped = fill(standard.scoped, given, node.span, node.standard.span)
    label = node.label or standard.label
    found = requirements.scoped(scoped, name, label.text if label else "", names)
    if found is None:
        return None
    for fault in standard.needs:
        _needed(fault, given, node, names, faults)
    return replace(found, standard=standard.name.text)


def _tell(inner: Report, report: Report, node: tree.Claim, standard: tree.Standard) -> None:
    """What was found in a claim, each with the words of the standard beside it."""
    words = f"{standard.name.text} asks: {scoped_text(standard.scoped)}"
    for each in inner.diagnostics():
        first, *others = each.labels
        here = node.standard.span
        also = () if first.span == here else (Label(here, words),)
        report.add(
            each.severity,
            each.code,
            each.message,
            first.span,
            each.hint,
            text=first.text or ("" if also else words),
            also=(*others, *also),
        )


def _needed(
    fault: tree.Fault,
    given: Given,
    node: tree.Claim,
    names: Names,
    faults: Collection[job.Fault],
) -> None:
    """Warn of a fault that the standard is about and the job does not consider."""
    kind = FaultKind(fault.words)
    subjects: tuple[str | None, ...] = (None,)
    if fault.subject is not None:
        things = (names.lookup(each.text) for each in given[fault.subject.text])
        subjects = tuple(None if thing is None else thing.name for thing in things)
    considered = {(each.kind, each.subject) for each in faults}
    for subject in subjects:
        if (kind, subject) in considered:
            continue
        shown = tree.Fault(
            fault.words,
            None if subject is None else tree.Name(subject),
            tree.Figure("5 ms") if kind is FaultKind.BOUNCE else None,
        )
        names.report.warning(
            "fault-not-considered",
            f"{node.standard.text} is about a fault that the job does not consider",
            node.standard.span,
            f"Write `consider {fault_text(shown)}`.",
        )
        return


# ---------------------------------------------------------------- what is given to it


def _given(node: tree.Claim, standard: tree.Standard, names: Names) -> Given | None:
    """What each parameter is given, by name; None after an error."""
    parameters = {each.name.text: each for each in standard.parameters}
    found: dict[str, tuple[tree.Amount, ...]] = {}
    first: dict[str, tree.Name] = {}
    good = True
    for argument in node.arguments:
        name = argument.parameter.text
        takes = parameters.get(name)
        if takes is None:
            _unknown_parameter(argument.parameter, standard, names.report)
            good = False
            continue
        before = first.setdefault(name, argument.parameter)
        if before is not argument.parameter:
            names.report.error(
                "given-twice",
                f"{name} is given twice",
                argument.parameter.span,
                f"Join them: `{name} A and B`." if takes.several else "Take one of them out.",
                also=(Label(before.span, "the first time"),),
            )
            good = False
            continue
        good = _fits(argument, takes, standard, names) and good
        found[name] = argument.given
    missing = [
        each for each in standard.parameters if each.name.text not in found and each.usual is None
    ]
    missing = [each for each in missing if each.name.text not in first]
    if missing:
        _missing(node, missing, names.report)
        return None
    for takes in standard.parameters:
        if takes.usual is not None and takes.name.text not in found:
            found[takes.name.text] = (tree.Figure(takes.usual.figure.text, node.standard.span),)
    return found if good else None


def _unknown_parameter(name: tree.Name, standard: tree.Standard, report: Report) -> None:
    known = [each.name.text for each in standard.parameters]
    report.error(
        "unknown-name",
        f"{standard.name.text} has no parameter called {name.text}",
        name.span,
        did_you_mean(
            name.text,
            known,
            f"It takes {joined(known, 'and')}." if known else "It takes none.",
        ),
    )


def _missing(node: tree.Claim, missing: list[tree.Takes], report: Report) -> None:
    what = ", ".join(f"{each.name.text} ({kinds_words(each)})" for each in missing)
    word = "with" if not node.arguments else "behind it"
    example = ", ".join(f"{each.name.text} {_example(each)}" for each in missing)
    report.error(
        "parameter-missing",
        f"{node.standard.text} is not told its {what}",
        node.standard.span,
        f"Write `with {example}`." if word == "with" else f"Add `, {example}` at its end.",
    )


def _example(takes: tree.Takes) -> str:
    match takes.kinds[0].text:
        case "duration":
            return "10 min"
        case "level":
            return "50 %"
        case "clock":
            return "22:30"
        case "value":
            return "off"
        case _:
            return "NAME"


def kinds_words(takes: tree.Takes) -> str:
    """What a parameter takes, in words.

    >>> kinds = (tree.Name("lamp"), tree.Name("load"))
    >>> kinds_words(tree.Takes(False, tree.Name("light"), kinds, None, None))
    'a lamp or load'
    >>> kinds_words(tree.Takes(True, tree.Name("lights"), kinds, None, None))
    'one or more lamps or loads'
    """
    kinds = [kind.text.replace("clock", "clock time") for kind in takes.kinds]
    if takes.several:
        kinds = [f"{kind}es" if kind.endswith("ch") else f"{kind}s" for kind in kinds]
    words = kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} or {kinds[-1]}"
    return f"one or more {words}" if takes.several else article(words)


def _fits(
    argument: tree.Argument, takes: tree.Takes, standard: tree.Standard, names: Names
) -> bool:
    """Whether what is given is what the parameter takes; if not, that is reported."""
    if len(argument.given) > 1 and not takes.several:
        names.report.error(
            "several-given",
            f"{takes.name.text} takes one, not {len(argument.given)}",
            argument.given[1].span,
            "Write a line of its own for each.",
        )
        return False
    kind = takes.kinds[0].text
    if kind == VALUE_KIND:
        return True
    # Each is looked at, so that all that is wrong is told at once.
    if kind in FIGURE_KINDS:
        unit = FIGURE_KINDS[kind]
        fitting = [_fits_figure(each, unit, takes, standard, names) for each in argument.given]
    else:
        fitting = [_fits_thing(each, takes, names) for each in argument.given]
    return all(fitting)


def _fits_figure(
    given: tree.Amount, unit: Unit, takes: tree.Takes, standard: tree.Standard, names: Names
) -> bool:
    value = names.figure(given, unit)
    if value is None:
        return False
    usual = takes.usual
    if usual is None or usual.words == "usually":
        return True
    limit = _value_of(usual.figure)
    if value > limit if usual.words == "at most" else value < limit:
        source = standard.sources[0] if standard.sources else None
        names.report.warning(
            "beyond-standard",
            f"{takes.name.text} is {given.text}; {source_words(source)} asks for {usual.words} "
            f"{usual.figure.text}",
            given.span,
            f"Write `{takes.name.text} {usual.figure.text}`, or leave it out; if the local code allows "
            "this figure, say so in a comment.",
        )
    return True


def _value_of(figure: tree.Figure) -> Fraction:
    found = quantity(figure.text)
    return getattr(found, "value", Fraction(0))


def source_words(source: tree.ModelledOn | None) -> str:
    """A source in a few words: its clause and edition."""
    if source is None:
        return "it"
    return source.clause.text + (f" ({source.edition.text})" if source.edition else "")


def _fits_thing(given: tree.Amount, takes: tree.Takes, names: Names) -> bool:
    kinds = [kind.text for kind in takes.kinds]
    wanted = kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} or {kinds[-1]}"
    fitting = [
        thing.name.removeprefix(names.prefix)
        for thing in names.things.values()
        if kind_word(thing) in kinds
    ]
    hint = (
        f"There {'is' if len(fitting) == 1 else 'are'} {joined(fitting[:6], 'and')}."
        if fitting
        else f"Declare {article(wanted)}."
    )
    if isinstance(given, tree.Figure):
        found = quantity(given.text)
        what = found.unit.value if isinstance(found, Quantity) else "no name"
        names.report.error(
            "wrong-kind",
            f"`{given.text}` is {what}; {takes.name.text} takes {article(wanted)}",
            given.span,
            hint,
        )
        return False
    thing = names.find(given, wanted)
    if thing is None:
        return False
    if kind_word(thing) in kinds:
        return True
    names.report.error(
        "wrong-kind",
        f"{given.text} is {kind_of(thing)}; {takes.name.text} takes {article(wanted)}",
        given.span,
        hint,
    )
    return False


def kind_word(thing: Thing) -> str:
    """The kind of a thing, as a parameter names it."""
    match thing:
        case Point():
            return thing.kind.value
        case Door():
            return "door"
        case Room():
            return "room"
        case RuleName():
            return "rule"
        case Setting():
            return "setting"


# ---------------------------------------------------------------- a standard requirement itself


READ = {
    "seen": "the words were read",
    "quoted": "read where another text quotes it",
    "memory": "not looked up",
    "practice": "common practice, no source",
}
"""How the text that a standard is modelled on was read."""


def check_standard(standard: tree.Standard, report: Report, shipped: Collection[str] = ()) -> bool:
    """Whether nothing is wrong with a standard requirement, whoever claims it; else it is reported."""
    inner = Report()
    _check_standard(standard, inner, shipped)
    for each in inner.diagnostics():
        first, *others = each.labels
        report.error(each.code, each.message, first.span, each.hint, also=tuple(others))
    return not inner.has_errors


def _check_standard(standard: tree.Standard, report: Report, shipped: Collection[str]) -> None:
    name = standard.name
    if name.text in shipped:
        report.error(
            "duplicate-name",
            f"the library has a standard requirement called {name.text}",
            name.span,
            "Give yours another name; `duskproof standard` lists those of the library.",
        )
    parameters: dict[str, tree.Takes] = {}
    for takes in standard.parameters:
        first = parameters.setdefault(takes.name.text, takes)
        if first is not takes:
            report.error(
                "duplicate-name",
                f"{takes.name.text} is taken twice",
                takes.name.span,
                "Give one of them another name.",
                also=(Label(first.name.span, "the first time"),),
            )
        if _check_kinds(takes, report):
            _check_usual(takes, report)
    _check_names(standard, parameters, report)


def _check_kinds(takes: tree.Takes, report: Report) -> bool:
    known = (*THING_KINDS, *FIGURE_KINDS, VALUE_KIND)
    for kind in takes.kinds:
        if kind.text not in known:
            report.error(
                "unknown-value",
                f"`{kind.text}` is no kind of parameter",
                kind.span,
                did_you_mean(kind.text, known, f"Kinds are {joined(known, 'and')}."),
            )
            return False
    figures = [kind for kind in takes.kinds if kind.text not in THING_KINDS]
    if figures and (len(takes.kinds) > 1 or takes.several):
        report.error(
            "unknown-value",
            f"{takes.name.text} cannot take {'several' if takes.several else 'other kinds'} "
            f"with `{figures[0].text}`",
            figures[0].span,
            f"Write `takes {takes.name.text} {figures[0].text}`.",
        )
        return False
    return True


def _check_usual(takes: tree.Takes, report: Report) -> None:
    if takes.usual is None:
        return
    kind, figure = takes.kinds[0].text, takes.usual.figure
    unit = FIGURE_KINDS.get(kind)
    found = quantity(figure.text)
    if unit is not None and isinstance(found, Quantity) and found.unit is unit:
        return
    report.error(
        "wrong-unit",
        f"`{figure.text}` does not fit {takes.name.text}, which takes {article(kind)}",
        figure.span,
        f"Write {unit.example}." if unit else "Leave it out: only a figure can be a usual one.",
    )


def _check_names(
    standard: tree.Standard, parameters: Mapping[str, tree.Takes], report: Report
) -> None:
    """The names in its form are its parameters, each asked as what it takes."""
    used = {fault.subject.text for fault in standard.needs if fault.subject is not None}
    for fault in standard.needs:
        if fault.subject is not None and fault.subject.text not in parameters:
            _no_parameter(fault.subject, parameters, report)
    for name, how in names_in(standard.scoped):
        takes = parameters.get(name.text)
        if takes is None:
            if how != "value":
                _no_parameter(name, parameters, report)
            continue
        used.add(name.text)
        if takes.several is not (how in ("all of", "any of")):
            report.error(
                "each-misplaced",
                f"{name.text} takes "
                + ("several: all or any of them are asked" if takes.several else "one thing"),
                name.span,
                f"Write `all of {name.text}` or `any of {name.text}`."
                if takes.several
                else f"Write `{name.text}` alone, or `takes several {name.text}`.",
            )
    for takes in parameters.values():
        if takes.name.text not in used:
            report.error(
                "no-parameter",
                f"{takes.name.text} is taken and not used",
                takes.name.span,
                "Use it in the form, or take the line out.",
            )


def _no_parameter(name: tree.Name, parameters: Mapping[str, tree.Takes], report: Report) -> None:
    report.error(
        "no-parameter",
        f"{name.text} is no parameter of this standard requirement",
        name.span,
        did_you_mean(
            name.text, parameters, f"Add `takes {name.text} KIND`: it can speak of nothing else."
        ),
    )
