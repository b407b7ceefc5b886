"""Raw nodes of the driver to the frozen syntax tree."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal, cast

from verifier.language import tree
from verifier.language.driver import Raw, RawChild
from verifier.language.lexer import Token
from verifier.source import Span

_BLANKS = re.compile(r"\s+")
_PARTS = re.compile(r"(\d)([A-Za-z%])")
_POINT_CLAUSES = {
    "power": "power",
    "holds": "holds",
    "rearm": "rearm",
    "wired": "wired normally",
    "broken_wire_reads": "broken wire reads",
    "wireless": "wireless",
    "starts": "starts",
    "local_switch": "with local switch",
    "power_return": "on power return",
    "retained": "retained",
}
_LINE_CLAUSES = {
    "latitude": "latitude",
    "longitude": "longitude",
    "timezone": "timezone",
    "night_below": "night below",
    "reaction": "reaction within",
    "raised_by": "raised by",
    "lowered_by": "lowered by",
    "moving_by": "moving by",
    "travel": "travel",
    "starts": "starts",
    "entered_by": "entered by",
    "seen_by": "seen by",
    "still": "still at most",
    "noticed": "noticed within",
}


def figure_text(text: str) -> str:
    """A figure's text with its blanks made even.

    >>> figure_text("1min  30 s"), figure_text("2x20W"), figure_text("60%")
    ('1 min 30 s', '2 x 20 W', '60 %')
    """
    spaced = _PARTS.sub(r"\1 \2", text)
    spaced = re.sub(r"\bx(\d)", r"x \1", spaced)
    return _BLANKS.sub(" ", spaced)


class Builder:
    """Builds the nodes of one file."""

    def __init__(self, file: str) -> None:
        self._file = file

    # ------------------------------------------------------------ leaves

    def span(self, raw: Raw | Token) -> Span:
        """The span of a raw node or token."""
        return Span(self._file, raw.start, raw.end)

    def name(self, child: RawChild) -> tree.Name:
        """A NAME token as a name."""
        token = _token(child)
        return tree.Name(token.text, self.span(token))

    def names(self, children: list[RawChild]) -> tuple[tree.Name, ...]:
        """NAME tokens as names."""
        return tuple(self.name(child) for child in children)

    def label(self, child: RawChild) -> tree.Label | None:
        """A LABEL token as a label, None where there is none."""
        if child is None:
            return None
        token = _token(child)
        return tree.Label(token.text[1:-1], self.span(token))

    def figure(self, child: RawChild) -> tree.Figure:
        """A figure, bare or in its rule ``figure``."""
        token = _token(child.children[0]) if isinstance(child, Raw) else _token(child)
        return tree.Figure(figure_text(token.text), self.span(token))

    def amount(self, child: RawChild) -> tree.Amount:
        """What stands in a ``value`` or ``amount``: a word or a figure."""
        token = _token(_raw(child).children[0])
        if token.kind in ("NAME", "NO"):
            return tree.Name(token.text, self.span(token))
        return self.figure(token)

    def _amount_or_none(self, child: RawChild) -> tree.Amount | None:
        return None if child is None else self.amount(child)

    def _condition_or_none(self, child: RawChild) -> tree.Condition | None:
        return None if child is None else self.condition(child)

    # ------------------------------------------------------------ declarations

    def declaration(self, raw: Raw) -> tree.Declaration:
        """The tree of one ``declaration``."""
        inner = _raw(raw.children[0])
        parts = inner.children
        span = self.span(inner)
        match inner.kind:
            case "site":
                label = self.label(parts[0])
                if label is None:
                    raise AssertionError("build: a site without a label")
                return tree.Site(label, self._clauses(parts[1:], _LINE_CLAUSES), span)
            case "setting":
                return tree.Setting(self.name(parts[0]), self.figure(parts[1]), span)
            case "point":
                kind = _token(_raw(parts[0]).children[0]).text
                clauses = self._clauses(parts[3:], _POINT_CLAUSES)
                return tree.Point(kind, self.name(parts[1]), self.label(parts[2]), clauses, span)
            case "door":
                return tree.Door(
                    self.name(parts[0]),
                    self.label(parts[1]),
                    self._clauses(parts[2:], _LINE_CLAUSES),
                    span,
                )
            case "room":
                return tree.Room(
                    self.name(parts[0]),
                    self.label(parts[1]),
                    self._clauses(parts[2:], _LINE_CLAUSES),
                    span,
                )
            case "rule":
                head = tuple(self._head(_raw(part)) for part in parts[2:-1])
                return tree.Rule(
                    self.name(parts[0]),
                    self.label(parts[1]),
                    head,
                    self.body(_raw(parts[-1])),
                    span,
                )
            case "requirement":
                scoped = self.scoped(_raw(parts[2]))
                return tree.Requirement(self.name(parts[0]), self.label(parts[1]), scoped, span)
            case "typical":
                declarations = tuple(
                    self.declaration(_raw(part)) for part in parts[2:] if part is not None
                )
                return tree.Typical(self.name(parts[0]), self.label(parts[1]), declarations, span)
            case "apply":
                return self._apply(parts, span)
            case "claim":
                return self._claim(parts, span)
            case "standard":
                return self._standard(parts, span)
            case "usage":
                lines = tuple(self._usage_line(_raw(part)) for part in parts[1:] if part)
                return tree.Usage(self.label(parts[0]), lines, span)
            case _:
                return self._assumption_or_fault(inner, span)

    def _apply(self, parts: list[RawChild], span: Span) -> tree.Apply:
        names = [part for part in parts[1:] if isinstance(part, Token)]
        overrides = tuple(
            tree.Override(
                self.name(part.children[0]), self.figure(part.children[1]), self.span(part)
            )
            for part in parts
            if isinstance(part, Raw)
        )
        return tree.Apply(self.name(parts[0]), self.names(list(names)), overrides, span)

    def _claim(self, parts: list[RawChild], span: Span) -> tree.Claim:
        arguments = tuple(
            tree.Argument(
                self.name(part.children[0]),
                tuple(self.amount(child) for child in part.children[1:]),
                self.span(part),
            )
            for part in parts[3:]
            if isinstance(part, Raw)
        )
        return tree.Claim(
            self.name(parts[0]), self.label(parts[1]), self.name(parts[2]), arguments, span
        )

    def _standard(self, parts: list[RawChild], span: Span) -> tree.Standard:
        lines = tuple(self._standard_line(_raw(part)) for part in parts[2:-1] if part is not None)
        scoped = self.scoped(_raw(parts[-1]))
        return tree.Standard(self.name(parts[0]), self.label(parts[1]), lines, scoped, span)

    def _standard_line(self, raw: Raw) -> tree.StandardLine:
        parts = raw.children
        span = self.span(raw)
        match raw.kind:
            case "modelled_on":
                read = _words(parts[2])
                return tree.ModelledOn(self._label(parts[0]), self.label(parts[1]), read, span)
            case "applies_to":
                return tree.Remark("applies to", self._label(parts[0]), span)
            case "caution":
                return tree.Remark("caution", self._label(parts[0]), span)
            case "takes":
                usual = None if parts[2] is None else self._usual(_raw(parts[2]))
                kinds, label = self.names(_raw(parts[1]).children), self.label(parts[3])
                return tree.Takes(False, self.name(parts[0]), kinds, usual, label, span)
            case "takes_several":
                kinds, label = self.names(_raw(parts[1]).children), self.label(parts[2])
                return tree.Takes(True, self.name(parts[0]), kinds, None, label, span)
            case "needs":
                fault = self._assumption_or_fault(_raw(parts[0]), span)
                if not isinstance(fault, tree.Fault):
                    raise AssertionError("build: a fault was expected")
                return tree.Needs(fault, span)
            case _:
                raise AssertionError(f"build: no line of a standard for {raw.kind}")

    def _usage_line(self, raw: Raw) -> tree.UsageLine:
        parts = raw.children
        source, span = self.label(parts[-1]), self.span(raw)
        match raw.kind:
            case "use_pressed":
                often = self._often(_raw(parts[1]))
                return tree.Use(self.name(parts[0]), None, None, often, source, span)
            case "use_becomes":
                value, lasts = self.amount(parts[1]), self.amount(parts[2])
                often = self._often(_raw(parts[3]))
                return tree.Use(self.name(parts[0]), value, lasts, often, source, span)
            case "use_night":
                begin, end = self.amount(parts[0]), self.amount(parts[1])
                return tree.NightHours(begin, end, source, span)
            case "use_price":
                return tree.Price(self.figure(parts[0]), self.name(parts[1]), source, span)
            case "use_standby":
                return tree.Standby(self.name(parts[0]), self.amount(parts[1]), source, span)
            case _:
                raise AssertionError(f"build: no line of a usage for {raw.kind}")

    def _often(self, raw: Raw) -> tree.Often:
        times, begin, end, days = raw.children
        said = _raw(times)
        figure = (
            tree.Figure("1", self.span(said))
            if said.kind == "once"
            else self.figure(said.children[0])
        )
        return tree.Often(
            figure,
            self._amount_or_none(begin),
            self._amount_or_none(end),
            self._days(days),
            self.span(raw),
        )

    def _label(self, child: RawChild) -> tree.Label:
        label = self.label(child)
        if label is None:
            raise AssertionError("build: a label was expected")
        return label

    def _usual(self, raw: Raw) -> tree.Usual:
        words: dict[str, Literal["at most", "at least", "usually"]] = {
            "usual_at_most": "at most",
            "usual_at_least": "at least",
            "usually": "usually",
        }
        return tree.Usual(words[raw.kind], self.figure(raw.children[0]), self.span(raw))

    def _assumption_or_fault(self, raw: Raw, span: Span) -> tree.Declaration:
        parts = raw.children
        match raw.kind:
            case "assume_always" | "assume_never":
                word: Literal["always", "never"] = (
                    "always" if raw.kind == "assume_always" else "never"
                )
                return tree.AssumeCondition(word, self.condition(parts[0]), span)
            case "assume_stays":
                bound = cast(Literal["at least", "at most"], _words(parts[2]))
                return tree.AssumeStays(
                    self.name(parts[0]), self.amount(parts[1]), bound, self.amount(parts[3]), span
                )
            case "power_cuts":
                return tree.Fault("power cuts", None, None, span)
            case "lost_reports":
                return tree.Fault("lost reports", self.name(parts[0]), None, span)
            case "bounce":
                within = self.amount(parts[1]) if len(parts) > 1 else None
                return tree.Fault("bounce", self.name(parts[0]), within, span)
            case "stuck":
                return tree.Fault("stuck", self.name(parts[0]), None, span)
            case "broken_wire":
                return tree.Fault("broken wire", self.name(parts[0]), None, span)
            case "both_limits":
                return tree.Fault("both limits reached", self.name(parts[0]), None, span)
            case _:
                raise AssertionError(f"build: no node for {raw.kind}")

    def _clauses(self, parts: list[RawChild], words: dict[str, str]) -> tuple[tree.Clause, ...]:
        clauses = []
        for part in parts:
            if part is None:
                continue
            raw = _raw(part)
            operands = tuple(self._operand(child) for child in raw.children)
            clauses.append(tree.Clause(words[raw.kind], operands, self.span(raw)))
        return tuple(clauses)

    def _operand(self, child: RawChild) -> tree.Name | tree.Figure | tree.Label:
        if isinstance(child, Raw):
            return self.amount(child)
        token = _token(child)
        if token.kind == "LABEL":
            return tree.Label(token.text[1:-1], self.span(token))
        return self.figure(token) if token.kind == "FIGURE" else self.name(token)

    # ------------------------------------------------------------ rules

    def _head(self, raw: Raw) -> tree.HeadLine:
        parts = raw.children
        span = self.span(raw)
        match raw.kind:
            case "retriggerable":
                return tree.Policy("retriggerable", None, None, False, span)
            case "non_retriggerable":
                return tree.Policy("non-retriggerable", None, None, False, span)
            case "at_once":
                waiting = None if parts[1] is None else self.figure(parts[1])
                return tree.Policy(
                    "at once", self.figure(parts[0]), waiting, parts[2] is not None, span
                )
            case "upon":
                return tree.Upon(
                    self.event(_raw(parts[0])), self._condition_or_none(parts[1]), span
                )
            case _:
                return tree.Provided(self.condition(parts[0]), span)

    def body(self, raw: Raw) -> tuple[tree.Statement, ...]:
        """The statements of a ``body``."""
        return tuple(self.statement(_raw(part)) for part in raw.children if part is not None)

    def statement(self, raw: Raw) -> tree.Statement:
        """One statement."""
        parts = raw.children
        span = self.span(raw)
        match raw.kind:
            case "put":
                return tree.Put(self.name(parts[0]), self.amount(parts[1]), span)
            case "fade":
                return tree.Fade(
                    self.name(parts[0]), self.amount(parts[1]), self.amount(parts[2]), span
                )
            case "wait":
                return tree.Wait(self.amount(parts[0]), span)
            case "wait_until":
                return tree.WaitUntil(
                    self.condition(parts[0]), self._amount_or_none(parts[1]), span
                )
            case "choice":
                arms = [part for part in parts if isinstance(part, Raw) and part.kind == "arm"]
                last = parts[-1]
                otherwise = (
                    self.body(last) if isinstance(last, Raw) and last.kind == "body" else None
                )
                return tree.If(tuple(self._arm(arm) for arm in arms), otherwise, span)
            case "repeat":
                return tree.Repeat(self.body(_raw(parts[0])), self.condition(parts[1]), span)
            case "cancel":
                return tree.Cancel(self.name(parts[0]), span)
            case "end_run":
                return tree.EndRun(span)
            case _:
                raise AssertionError(f"build: no statement for {raw.kind}")

    def _arm(self, raw: Raw) -> tree.Arm:
        return tree.Arm(
            self.condition(raw.children[0]), self.body(_raw(raw.children[1])), self.span(raw)
        )

    # ------------------------------------------------------------ events and conditions

    def event(self, raw: Raw) -> tree.Event:
        """One event."""
        parts = raw.children
        span = self.span(raw)
        match raw.kind:
            case "becomes":
                return tree.Becomes(self.name(parts[0]), self.amount(parts[1]), span)
            case "changes" | "pressed" as word:
                return tree.NamedEvent(self.name(parts[0]), word, span)
            case "rule_starts":
                return tree.NamedEvent(self.name(parts[0]), "starts", span)
            case "rule_ends":
                return tree.NamedEvent(self.name(parts[0]), "ends", span)
            case "has_stayed":
                return tree.Stayed(
                    self.name(parts[0]), self.amount(parts[1]), self.amount(parts[2]), span
                )
            case "night_begins":
                return tree.WorldEvent("night begins", span)
            case "day_begins":
                return tree.WorldEvent("day begins", span)
            case "power_returns":
                return tree.WorldEvent("power returns", span)
            case "at_clock":
                return tree.AtClock(self.amount(parts[0]), self._days(parts[1]), span)
            case "any_event":
                item = self.event(_raw(parts[0]))
                if not isinstance(item, tree.Becomes | tree.NamedEvent | tree.Stayed):
                    raise AssertionError("build: an event of a point or rule was expected")
                return tree.AnyEvent(item, span)
            case _:
                raise AssertionError(f"build: no event for {raw.kind}")

    def _days(self, child: RawChild) -> tuple[tree.Name, ...]:
        return () if child is None else self.names(_raw(child).children)

    def condition(self, child: RawChild) -> tree.Condition:
        """One condition."""
        raw = _raw(child)
        parts = raw.children
        span = self.span(raw)
        match raw.kind:
            case "implies":
                return tree.Implies(self.condition(parts[0]), self.condition(parts[1]), span)
            case "disjunction":
                return tree.Or(tuple(self.condition(part) for part in parts), span)
            case "conjunction":
                return tree.And(tuple(self.condition(part) for part in parts), span)
            case "negated":
                return tree.Not(self.condition(parts[0]), span)
            case "group":
                return tree.Group(self.condition(parts[0]), span)
            case "is_value":
                return tree.Is(self.name(parts[0]), self.amount(parts[1]), span)
            case "compare":
                return tree.Compare(
                    self.name(parts[0]), _comparison(parts[1]), self.amount(parts[2]), span
                )
            case "stayed":
                return tree.Stayed(
                    self.name(parts[0]), self.amount(parts[1]), self.amount(parts[2]), span
                )
            case "night":
                return tree.Sun("night", span)
            case "day":
                return tree.Sun("day", span)
            case "between":
                return tree.Between(
                    self.amount(parts[0]), self.amount(parts[1]), self._days(parts[2]), span
                )
            case "timed_out":
                return tree.TimedOut(span)
            case "all_of" | "any_of":
                item = self.condition(parts[0])
                if not isinstance(item, tree.Is | tree.Compare | tree.Stayed):
                    raise AssertionError("build: a condition of a point was expected")
                return tree.OfEach("all of" if raw.kind == "all_of" else "any of", item, span)
            case _:
                raise AssertionError(f"build: no condition for {raw.kind}")

    # ------------------------------------------------------------ requirements

    def scoped(self, raw: Raw) -> tree.ScopedForm:
        """``[while C:] FORM [allowing D]``."""
        scope, form, allowing = raw.children
        return tree.ScopedForm(
            self._condition_or_none(scope),
            self._form(_raw(form)),
            self._amount_or_none(allowing),
            self.span(raw),
        )

    def _form(self, raw: Raw) -> tree.Form:
        parts = raw.children
        span = self.span(raw)
        kind = cast(tree.FormKind, raw.kind)
        form = _FORMS[raw.kind]
        return form(self, kind, parts, span)


_FormBuilder = Callable[[Builder, tree.FormKind, list[RawChild], Span], tree.Form]


def _form_of_condition(
    b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span
) -> tree.Form:
    return tree.Form(kind, (), b.condition(parts[0]), None, None, None, span)


def _form_of_events(
    b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span
) -> tree.Form:
    events = tuple(b.event(_raw(part)) for part in _raw(parts[0]).children)
    return tree.Form(kind, events, b.condition(parts[1]), b.amount(parts[2]), None, None, span)


def _form_of_stretch(
    b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span
) -> tree.Form:
    return tree.Form(kind, (), b.condition(parts[1]), b.amount(parts[0]), None, None, span)


def _form_of_times(b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span) -> tree.Form:
    events = tuple(b.event(_raw(part)) for part in _raw(parts[2]).children)
    return tree.Form(kind, events, None, b.amount(parts[1]), b.figure(parts[0]), None, span)


def _form_of_rule(b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span) -> tree.Form:
    return tree.Form(kind, (), b.condition(parts[1]), None, None, b.name(parts[0]), span)


def _form_of_measure(
    b: Builder, kind: tree.FormKind, parts: list[RawChild], span: Span
) -> tree.Form:
    events = tuple(b.event(_raw(part)) for part in _raw(parts[1]).children)
    return tree.Form(kind, events, b.condition(parts[0]), None, None, None, span)


_FORMS: dict[str, _FormBuilder] = {
    "always": _form_of_condition,
    "never": _form_of_condition,
    "possible": _form_of_condition,
    "when_within": _form_of_events,
    "when_for": _form_of_events,
    "after_last": _form_of_events,
    "before": _form_of_events,
    "no_longer": _form_of_stretch,
    "no_shorter": _form_of_stretch,
    "at_most_times": _form_of_times,
    "leads_to": _form_of_rule,
    "measure": _form_of_measure,
}


def _comparison(child: RawChild) -> Literal["above", "below", "at least", "at most"]:
    return cast(Literal["above", "below", "at least", "at most"], _words(child))


def _words(child: RawChild) -> str:
    return " ".join(_token(part).text for part in _raw(child).children)


def _token(child: RawChild) -> Token:
    if not isinstance(child, Token):
        raise AssertionError("build: a token was expected")
    return child


def _raw(child: RawChild) -> Raw:
    if not isinstance(child, Raw):
        raise AssertionError("build: a node was expected")
    return child
