"""A form with what its parameters are given in place of their names.

Before: ``while all of detectors is vacant: no longer than time: light is on``.
After: ``while (pir_1 is vacant and pir_2 is vacant): no longer than 20 min: bay is on``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import assert_never

from verifier.language import tree
from verifier.source import Span

Given = Mapping[str, tuple[tree.Amount, ...]]
"""What each parameter is given, by the parameter's name."""


def fill(scoped: tree.ScopedForm, given: Given, whole: Span, word: Span) -> tree.ScopedForm:
    """The form with every parameter filled in.

    ``whole`` becomes the place of all that has several words, ``word`` that of single ones; what is
    given keeps its own.
    """
    return _Filling(given, whole, word).scoped(scoped)


def names_in(scoped: tree.ScopedForm) -> tuple[tuple[tree.Name, str], ...]:
    """The names in a form that can be those of parameters, each with how it is asked.

    That is ``"all of"``, ``"any of"``, ``"one"`` or, where a word that is no name may stand as well,
    ``"value"``.
    """
    found: list[tuple[tree.Name, str]] = []
    _Filling({}, scoped.span, scoped.span, lambda name, how: found.append((name, how))).scoped(
        scoped
    )
    return tuple(found)


def _nothing(name: tree.Name, how: str) -> None:
    """What is done with names when a form is filled."""


@dataclass(frozen=True, slots=True)
class _Filling:
    given: Given
    whole: Span
    word: Span
    seen: Callable[[tree.Name, str], None] = _nothing

    # ------------------------------------------------------------ words

    def _name(self, name: tree.Name) -> tree.Name:
        self.seen(name, "one")
        return _as_name(self.given.get(name.text, (name,))[0], name, self.word)

    def _amount(self, amount: tree.Amount, how: str = "one") -> tree.Amount:
        if isinstance(amount, tree.Figure):
            return tree.Figure(amount.text, self.word)
        self.seen(amount, how)
        found = self.given.get(amount.text)
        return tree.Name(amount.text, self.word) if found is None else found[0]

    def _value(self, value: tree.Amount) -> tree.Amount:
        return self._amount(value, "value")

    # ------------------------------------------------------------ forms

    def scoped(self, node: tree.ScopedForm) -> tree.ScopedForm:
        return tree.ScopedForm(
            None if node.scope is None else self._condition(node.scope),
            self._form(node.form),
            None if node.allowing is None else self._amount(node.allowing),
            self.whole,
        )

    def _form(self, node: tree.Form) -> tree.Form:
        return tree.Form(
            node.kind,
            tuple(each for event in node.events for each in self._events(event)),
            None if node.condition is None else self._condition(node.condition),
            None if node.amount is None else self._amount(node.amount),
            None if node.count is None else tree.Figure(node.count.text, self.word),
            None if node.rule is None else self._name(node.rule),
            self.whole,
        )

    # ------------------------------------------------------------ conditions

    def _condition(self, node: tree.Condition) -> tree.Condition:
        match node:
            case tree.Is() | tree.Compare() | tree.Stayed():
                return self._of_point(node, self._name(node.subject))
            case tree.Sun():
                return tree.Sun(node.phase, self.whole)
            case tree.Between():
                begin, end = self._amount(node.begin), self._amount(node.end)
                days = tuple(tree.Name(day.text, self.word) for day in node.days)
                return tree.Between(begin, end, days, self.whole)
            case tree.TimedOut():
                return tree.TimedOut(self.whole)
            case tree.Not():
                return tree.Not(self._condition(node.item), self.whole)
            case tree.And():
                return tree.And(tuple(self._condition(each) for each in node.items), self.whole)
            case tree.Or():
                return tree.Or(tuple(self._condition(each) for each in node.items), self.whole)
            case tree.Implies():
                left, right = self._condition(node.left), self._condition(node.right)
                return tree.Implies(left, right, self.whole)
            case tree.Group():
                return tree.Group(self._condition(node.item), self.whole)
            case tree.OfEach():
                return self._of_each(node)
            case _:
                assert_never(node)

    def _of_point(
        self, node: tree.Is | tree.Compare | tree.Stayed, name: tree.Name
    ) -> tree.Is | tree.Compare | tree.Stayed:
        match node:
            case tree.Is():
                return tree.Is(name, self._value(node.value), self.whole)
            case tree.Compare():
                return tree.Compare(name, node.comparison, self._amount(node.amount), self.whole)
            case tree.Stayed():
                duration = self._amount(node.duration)
                return tree.Stayed(name, self._value(node.value), duration, self.whole)
            case _:
                assert_never(node)

    def _of_each(self, node: tree.OfEach) -> tree.Condition:
        names = self._each(node.item.subject, node.quantifier)
        items = tuple(self._of_point(node.item, name) for name in names)
        if len(items) == 1:
            return items[0]
        joined = tree.And if node.quantifier == "all of" else tree.Or
        return tree.Group(joined(items, self.whole), self.whole)

    def _each(self, subject: tree.Name, how: str) -> tuple[tree.Name, ...]:
        """The names that a parameter is given."""
        self.seen(subject, how)
        found = self.given.get(subject.text, (subject,))
        return tuple(_as_name(given, subject, self.word) for given in found)

    # ------------------------------------------------------------ events

    def _events(self, node: tree.Event) -> tuple[tree.Event, ...]:
        match node:
            case tree.AnyEvent():
                names = self._each(node.item.subject, "any of")
                return tuple(self._event(node.item, name) for name in names)
            case tree.Becomes() | tree.NamedEvent() | tree.Stayed():
                return (self._event(node, self._name(node.subject)),)
            case tree.WorldEvent():
                return (replace(node, span=self.whole),)
            case tree.AtClock():
                days = tuple(tree.Name(day.text, self.word) for day in node.days)
                return (tree.AtClock(self._amount(node.time), days, self.whole),)
            case _:
                assert_never(node)

    def _event(
        self, node: tree.Becomes | tree.NamedEvent | tree.Stayed, name: tree.Name
    ) -> tree.Event:
        match node:
            case tree.Becomes():
                return tree.Becomes(name, self._value(node.value), self.whole)
            case tree.NamedEvent():
                return tree.NamedEvent(name, node.word, self.whole)
            case tree.Stayed():
                duration = self._amount(node.duration)
                return tree.Stayed(name, self._value(node.value), duration, self.whole)
            case _:
                assert_never(node)


def _as_name(given: tree.Amount, name: tree.Name, word: Span) -> tree.Name:
    """What is given where a name stands; where nothing is, the name itself."""
    if given is name:
        return tree.Name(name.text, word)
    return tree.Name(given.text, given.span)
