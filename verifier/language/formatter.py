"""The canonical text of a tree: two blanks a level, one clause a line, one blank line between blocks.

Comments are not part of the tree: `layout` puts them back. Reading the text again gives an equal tree.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import assert_never

from verifier.language import tree

_STEP = "  "
_SHORT = 90
"""Up to so many characters a scope and its form are one line: they are one sentence."""

_BLOCKS = (
    tree.Site,
    tree.Door,
    tree.Room,
    tree.Rule,
    tree.Requirement,
    tree.Standard,
    tree.Usage,
    tree.Typical,
)


def format_tree(file: tree.File) -> str:
    """The canonical text of a file."""
    return "".join(f"{line}\n" for line in _declarations(file.declarations))


def _declarations(declarations: Iterable[tree.Declaration]) -> list[str]:
    lines: list[str] = []
    before: tree.Declaration | None = None
    for declaration in declarations:
        apart = isinstance(declaration, _BLOCKS) or isinstance(before, _BLOCKS)
        if before is not None and apart:
            lines.append("")
        lines.extend(_declaration(declaration))
        before = declaration
    return lines


def _indented(lines: Iterable[str]) -> list[str]:
    return [_STEP + line if line else line for line in lines]


def _head(*words: str, label: tree.Label | None) -> str:
    return " ".join((*words, f'"{label.text}"')) if label else " ".join(words)


def _declaration(node: tree.Declaration) -> list[str]:
    match node:
        case tree.Site(label, clauses):
            return [_head("site", label=label), *_clauses(clauses), "end site"]
        case tree.Setting(name, figure):
            return [f"setting {name.text} {figure.text}"]
        case tree.Point(kind, name, label, clauses):
            return [" ".join([_head(kind, name.text, label=label), *map(clause_text, clauses)])]
        case tree.Door(name, label, clauses):
            return [_head("door", name.text, label=label), *_clauses(clauses), "end door"]
        case tree.Room(name, label, clauses):
            return [_head("room", name.text, label=label), *_clauses(clauses), "end room"]
        case tree.Rule(name, label, head, body):
            return [
                _head("rule", name.text, label=label),
                *_indented(head_text(line) for line in head),
                f"{_STEP}do",
                *_indented(_indented(_body(body))),
                "end rule",
            ]
        case tree.AssumeCondition(word, condition):
            return [f"assume {word} {condition_text(condition)}"]
        case tree.AssumeStays(subject, value, bound, duration):
            return [f"assume {subject.text} stays {value.text} {bound} {duration.text}"]
        case tree.Fault():
            return [f"consider {fault_text(node)}"]
        case tree.Requirement(name, label, scoped):
            return [
                _head("require", name.text, label=label),
                *_indented(_scoped(scoped)),
                "end require",
            ]
        case tree.Claim():
            return [claim_text(node)]
        case tree.Standard(name, label, lines, scoped):
            return [
                _head("standard", name.text, label=label),
                *_indented(standard_line_text(line) for line in lines),
                f"{_STEP}require",
                *_indented(_indented(_scoped(scoped))),
                f"{_STEP}end require",
                "end standard",
            ]
        case tree.Usage(label, lines):
            inner = _indented(usage_line_text(line) for line in lines)
            return [_head("usage", label=label), *inner, "end usage"]
        case tree.Typical(name, label, declarations):
            inner = _indented(_declarations(declarations))
            return [_head("typical", name.text, label=label), *inner, "end typical"]
        case tree.Apply():
            return [_apply(node)]
        case _:
            assert_never(node)


def _apply(node: tree.Apply) -> str:
    names = ", ".join(name.text for name in node.names)
    overrides = ", ".join(f"{each.setting.text} {each.figure.text}" for each in node.overrides)
    return f"apply {node.typical.text} to {names}" + (f" with {overrides}" if overrides else "")


def claim_text(node: tree.Claim) -> str:
    """A claim on one line."""
    head = f"{_head('require', node.name.text, label=node.label)} as {node.standard.text}"
    arguments = ", ".join(
        f"{each.parameter.text} {' and '.join(given.text for given in each.given)}"
        for each in node.arguments
    )
    return f"{head} with {arguments}" if arguments else head


def standard_line_text(line: tree.StandardLine) -> str:
    """A line of a standard requirement, before its form."""
    match line:
        case tree.ModelledOn(clause, edition, read):
            middle = f' edition "{edition.text}"' if edition else ""
            return f'modelled on "{clause.text}"{middle} {read}'
        case tree.Remark(words, text):
            return f'{words} "{text.text}"'
        case tree.Takes(several, name, kinds, usual, label):
            head = f"takes {'several ' if several else ''}{name.text} "
            head += " or ".join(kind.text for kind in kinds)
            head += f" {usual.words} {usual.figure.text}" if usual else ""
            return _head(head, label=label)
        case tree.Needs(fault):
            return f"needs {fault_text(fault)}"
        case _:
            assert_never(line)


def usage_line_text(line: tree.UsageLine) -> str:
    """A line of a usage."""
    match line:
        case tree.Use(subject, None, _, often):
            head = f"{subject.text} pressed {_often(often)}"
        case tree.Use(subject, value, lasts, often):
            lasting = f" for {lasts.text}" if lasts else ""
            becomes = f"{subject.text} becomes {value.text if value else ''}"
            head = f"{becomes}{lasting} {_often(often)}"
        case tree.NightHours(begin, end):
            head = f"night between {begin.text} and {end.text}"
        case tree.Price(figure, currency):
            head = f"a kWh costs {figure.text} {currency.text}"
        case tree.Standby(point, power):
            head = f"{point.text} draws {power.text} when off"
        case _:
            assert_never(line)
    return _head(head, label=line.source)


def _often(often: tree.Often) -> str:
    text = "once a day" if often.times.text == "1" else f"{often.times.text} times a day"
    if often.begin is not None and often.end is not None:
        text += f" between {often.begin.text} and {often.end.text}"
    return text + _on_days(often.days)


def fault_text(node: tree.Fault) -> str:
    """A fault, as it stands after ``consider``."""
    subject = node.subject.text if node.subject else ""
    match node.words:
        case "power cuts":
            return "power cuts"
        case "bounce":
            return f"bounce of {subject}" + (f" up to {node.within.text}" if node.within else "")
        case "stuck":
            return f"{subject} stuck"
        case "both limits reached":
            return f"both limits of {subject} reached"
        case "lost reports" | "broken wire":
            return f"{node.words} of {subject}"
        case _:
            assert_never(node.words)


def _clauses(clauses: Iterable[tree.Clause]) -> list[str]:
    return _indented(clause_text(clause) for clause in clauses)


def clause_text(clause: tree.Clause) -> str:
    """A line of a block or an option of a point."""
    operands = [
        f'"{each.text}"' if isinstance(each, tree.Label) else each.text for each in clause.operands
    ]
    match clause.words:
        case "power":
            return operands[0]
        case "travel":
            return f"travel {operands[0]} to {operands[1]}"
        case words:
            return f"{words} {', '.join(operands)}" if operands else words


# ---------------------------------------------------------------- rules


def head_text(line: tree.HeadLine) -> str:
    """A line of a rule's head."""
    match line:
        case tree.Policy(word, at_once, waiting, oldest_gives_way):
            text = word if at_once is None else f"{word} {at_once.text}"
            text += f", waiting {waiting.text}" if waiting else ""
            return text + (", oldest gives way" if oldest_gives_way else "")
        case tree.Upon(event, guard):
            return f"upon {event_text(event)}" + (
                f" provided {condition_text(guard)}" if guard else ""
            )
        case tree.Provided(condition):
            return f"provided {condition_text(condition)}"
        case _:
            assert_never(line)


def _body(body: Iterable[tree.Statement]) -> list[str]:
    return [line for statement in body for line in _statement(statement)]


def _statement(node: tree.Statement) -> list[str]:
    match node:
        case tree.Put(point, value):
            return [f"{point.text} {value.text}"]
        case tree.Fade(dimmer, level, over):
            return [f"fade {dimmer.text} to {level.text} over {over.text}"]
        case tree.Wait(duration):
            return [f"wait {duration.text}"]
        case tree.WaitUntil(condition, at_most):
            limit = f", at most {at_most.text}" if at_most else ""
            return [f"wait until {condition_text(condition)}{limit}"]
        case tree.If(arms, otherwise):
            lines: list[str] = []
            for number, arm in enumerate(arms):
                lines.append(f"{'elsif' if number else 'if'} {condition_text(arm.condition)} then")
                lines.extend(_indented(_body(arm.body)))
            if otherwise is not None:
                lines.extend(["else", *_indented(_body(otherwise))])
            return [*lines, "end if"]
        case tree.Repeat(body, until):
            return [
                "repeat",
                *_indented(_body(body)),
                f"until {condition_text(until)}",
                "end repeat",
            ]
        case tree.Cancel(rule):
            return [f"cancel {rule.text}"]
        case tree.EndRun():
            return ["end run"]
        case _:
            assert_never(node)


# ---------------------------------------------------------------- conditions and events


def _on_days(days: tuple[tree.Name, ...]) -> str:
    return f" on {', '.join(day.text for day in days)}" if days else ""


def condition_text(node: tree.Condition) -> str:
    """A condition on one line."""
    match node:
        case tree.Is(subject, value):
            return f"{subject.text} is {value.text}"
        case tree.Compare(subject, comparison, amount):
            return f"{subject.text} {comparison} {amount.text}"
        case tree.Stayed():
            return _stayed(node)
        case tree.Sun(phase):
            return phase
        case tree.Between(begin, end, days):
            return f"between {begin.text} and {end.text}{_on_days(days)}"
        case tree.TimedOut():
            return "timed out"
        case tree.Not(item):
            return f"not {condition_text(item)}"
        case tree.And(items):
            return " and ".join(condition_text(item) for item in items)
        case tree.Or(items):
            return " or ".join(condition_text(item) for item in items)
        case tree.Implies(left, right):
            return f"{condition_text(left)} implies {condition_text(right)}"
        case tree.Group(item):
            return f"({condition_text(item)})"
        case tree.OfEach(quantifier, item):
            return f"{quantifier} {condition_text(item)}"
        case _:
            assert_never(node)


def _stayed(node: tree.Stayed) -> str:
    return f"{node.subject.text} has stayed {node.value.text} for {node.duration.text}"


def event_text(node: tree.Event) -> str:
    """An event."""
    match node:
        case tree.Becomes(subject, value):
            return f"{subject.text} becomes {value.text}"
        case tree.NamedEvent(subject, word):
            return f"{subject.text} {word}"
        case tree.Stayed():
            return _stayed(node)
        case tree.WorldEvent(words):
            return words
        case tree.AtClock(time, days):
            return f"at {time.text}{_on_days(days)}"
        case tree.AnyEvent(item):
            return f"any of {event_text(item)}"
        case _:
            assert_never(node)


# ---------------------------------------------------------------- requirements


def scoped_text(node: tree.ScopedForm) -> str:
    """A requirement form with its scope and allowance on one line."""
    return " ".join(_scoped(node))


def _scoped(node: tree.ScopedForm) -> list[str]:
    lines = [form_text(node.form)]
    if node.scope is not None:
        scope = f"while {condition_text(node.scope)}:"
        short = len(scope) + len(lines[0]) < _SHORT
        lines = [f"{scope} {lines[0]}"] if short else [scope, lines[0]]
    if node.allowing is not None:
        lines.append(f"allowing {node.allowing.text}")
    return lines


def form_text(form: tree.Form) -> str:
    """A requirement form on one line."""
    events = " or ".join(event_text(event) for event in form.events)
    condition = condition_text(form.condition) if form.condition else ""
    amount = form.amount.text if form.amount else ""
    match form.kind:
        case "always" | "never" | "possible":
            return f"{form.kind}: {condition}"
        case "when_within":
            return f"when {events}: {condition} within {amount}"
        case "when_for":
            return f"when {events}: {condition} for at least {amount}"
        case "after_last":
            return f"after last {events}: {condition} within {amount}"
        case "before":
            return f"before {events}: {condition} for at least {amount}"
        case "no_longer" | "no_shorter":
            return f"{form.kind.replace('_', ' ')} than {amount}: {condition}"
        case "at_most_times":
            count = form.count.text if form.count else ""
            return f"at most {count} times in {amount}: {events}"
        case "leads_to":
            rule = form.rule.text if form.rule else ""
            return f"every trigger of {rule} leads to {condition}"
        case "measure":
            return f"measure longest: {condition} after last {events}"
        case _:
            assert_never(form.kind)
