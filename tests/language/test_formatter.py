"""The canonical text: what is printed reads back as the same tree, whatever the tree."""

from __future__ import annotations

from typing import TypeVar

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from verifier.language import format_tree, parse, tree
from verifier.language.lexer import RESERVED
from verifier.source import SourceFile

T = TypeVar("T")

WORDS = (
    "up",
    "on",
    "last",
    "rule",
    "is",
    "side_door",
    "floor_1.pir",
    "x2",
    "level",
    "lost",
    "running",
)
names = (
    st.one_of(
        st.sampled_from(WORDS),
        st.from_regex(r"[a-z][a-z0-9_]{0,5}(\.[a-z][a-z0-9_]{0,3})?", fullmatch=True),
    )
    .filter(lambda word: not RESERVED & {word})
    .map(tree.Name)
)
labels = st.text(
    st.characters(exclude_characters='"\n', exclude_categories=["Cc", "Cs"]), max_size=12
).map(tree.Label)
numbers = st.integers(1, 99).map(lambda n: tree.Figure(str(n)))
figures = st.one_of(
    st.integers(0, 500).map(lambda n: f"{n} s"),
    st.integers(0, 100).map(lambda n: f"{n} %"),
    st.integers(0, 254).map(lambda n: f"level {n} of 254"),
    st.tuples(st.integers(1, 9), st.integers(1, 59)).map(
        lambda p: f"{p[0]} h {p[1]} min {p[1]}.5 s"
    ),
    st.integers(-90, 90).map(lambda n: f"{n} deg"),
    st.integers(1, 9).map(lambda n: f"{n} x 20 W"),
).map(tree.Figure)
clocks = st.tuples(st.integers(0, 23), st.integers(0, 59)).map(
    lambda p: tree.Figure(f"{p[0]:02d}:{p[1]:02d}")
)
amounts = st.one_of(names, figures, clocks, numbers)
values = st.one_of(names, figures, numbers, st.just(tree.Name("no")))
days = st.lists(names, max_size=3).map(tuple)


def several(
    items: st.SearchStrategy[T], least: int = 0, most: int = 3
) -> st.SearchStrategy[tuple[T, ...]]:
    return st.lists(items, min_size=least, max_size=most).map(tuple)


leaves: st.SearchStrategy[tree.Condition] = st.one_of(
    st.builds(tree.Is, names, values),
    st.builds(
        tree.Compare, names, st.sampled_from(("above", "below", "at least", "at most")), amounts
    ),
    st.builds(tree.Stayed, names, values, amounts),
    st.builds(tree.Sun, st.sampled_from(("night", "day"))),
    st.builds(tree.Between, amounts, amounts, days),
    st.just(tree.TimedOut()),
)


def fitting(node: tree.Condition, *loose: type) -> tree.Condition:
    """The condition, in parentheses if it binds looser than its place allows."""
    return tree.Group(node) if isinstance(node, loose) else node


def compound(inner: st.SearchStrategy[tree.Condition]) -> st.SearchStrategy[tree.Condition]:
    loose = (tree.Implies,)
    negated = inner.map(lambda c: tree.Not(fitting(c, tree.And, tree.Or, *loose)))
    conjunction = several(inner, 2).map(
        lambda cs: tree.And(tuple(fitting(c, tree.And, tree.Or, *loose) for c in cs))
    )
    disjunction = several(inner, 2).map(
        lambda cs: tree.Or(tuple(fitting(c, tree.Or, *loose) for c in cs))
    )
    implication = st.builds(lambda a, b: tree.Implies(fitting(a, *loose), b), inner, inner)
    return st.one_of(negated, conjunction, disjunction, implication, inner.map(tree.Group))


single: st.SearchStrategy[tree.Is | tree.Compare | tree.Stayed] = st.one_of(
    st.builds(tree.Is, names, values),
    st.builds(tree.Compare, names, st.sampled_from(("above", "at least")), amounts),
    st.builds(tree.Stayed, names, values, amounts),
)
leaves |= st.builds(tree.OfEach, st.sampled_from(("all of", "any of")), single)
conditions = st.recursive(leaves, compound, max_leaves=6)
maybe_condition = st.one_of(st.none(), conditions)
events: st.SearchStrategy[tree.Event] = st.one_of(
    st.builds(tree.Becomes, names, values),
    st.builds(tree.NamedEvent, names, st.sampled_from(("changes", "pressed", "starts", "ends"))),
    st.builds(tree.Stayed, names, values, amounts),
    st.builds(tree.WorldEvent, st.sampled_from(("night begins", "day begins", "power returns"))),
    st.builds(tree.AtClock, amounts, days),
)
events |= st.builds(
    tree.AnyEvent,
    events.filter(lambda event: not isinstance(event, tree.WorldEvent | tree.AtClock)),
)
simple: st.SearchStrategy[tree.Statement] = st.one_of(
    st.builds(tree.Put, names, values),
    st.builds(tree.Fade, names, amounts, amounts),
    st.builds(tree.Wait, amounts),
    st.builds(tree.WaitUntil, conditions, st.one_of(st.none(), amounts)),
    st.builds(tree.Cancel, names),
    st.just(tree.EndRun()),
)


def blocks(inner: st.SearchStrategy[tree.Statement]) -> st.SearchStrategy[tree.Statement]:
    body = several(inner)
    arms = several(st.builds(tree.Arm, conditions, body), 1, 2)
    return st.one_of(
        st.builds(tree.If, arms, st.one_of(st.none(), body)),
        st.builds(tree.Repeat, body, conditions),
    )


statements = st.recursive(simple, blocks, max_leaves=5)
at_once = st.builds(
    tree.Policy, st.just("at once"), numbers, st.one_of(st.none(), numbers), st.booleans()
)
heads: st.SearchStrategy[tree.HeadLine] = st.one_of(
    st.just(tree.Policy("retriggerable", None, None, False)),
    st.just(tree.Policy("non-retriggerable", None, None, False)),
    at_once,
    st.builds(tree.Upon, events, maybe_condition),
    st.builds(tree.Provided, conditions),
)


def clause(
    words: str, *operands: st.SearchStrategy[tree.Name | tree.Figure]
) -> st.SearchStrategy[tree.Clause]:
    return st.tuples(*operands).map(lambda found: tree.Clause(words, found))


options = st.one_of(
    clause("holds", amounts),
    clause("rearm", amounts),
    clause("wired normally", st.sampled_from((tree.Name("open"), tree.Name("closed")))),
    clause("broken wire reads", values),
    clause("wireless"),
    clause("starts", values),
    clause("with local switch"),
    clause("on power return", names),
    clause("retained"),
)
door_lines = st.one_of(
    clause("raised by", names), clause("moving by", names), clause("travel", amounts, amounts)
)
room_lines = st.one_of(
    clause("entered by", names, names), clause("seen by", names), clause("still at most", amounts),
    clause("noticed within", amounts), clause("starts", names),
)  # fmt: skip


def form(kind: tree.FormKind, **parts: object) -> st.SearchStrategy[tree.Form]:
    given = {"events": (), "condition": None, "amount": None, "count": None, "rule": None, **parts}
    strategies = {
        key: value if isinstance(value, st.SearchStrategy) else st.just(value)
        for key, value in given.items()
    }
    return st.builds(tree.Form, st.just(kind), **strategies)


some_events = several(events, 1)
forms = st.one_of(
    form("always", condition=conditions),
    form("never", condition=conditions),
    form("possible", condition=conditions),
    form("when_within", events=some_events, condition=conditions, amount=amounts),
    form("when_for", events=some_events, condition=conditions, amount=amounts),
    form("after_last", events=some_events, condition=conditions, amount=amounts),
    form("before", events=some_events, condition=conditions, amount=amounts),
    form("no_longer", condition=conditions, amount=amounts),
    form("no_shorter", condition=conditions, amount=amounts),
    form("at_most_times", events=some_events, amount=amounts, count=numbers),
    form("leads_to", condition=conditions, rule=names),
    form("measure", condition=conditions, events=some_events),
)
maybe_label = st.one_of(st.none(), labels)
faults = st.one_of(
    st.just(tree.Fault("power cuts", None, None)),
    st.builds(
        tree.Fault,
        st.sampled_from(("lost reports", "stuck", "broken wire", "both limits reached")),
        names,
        st.none(),
    ),
    st.builds(tree.Fault, st.just("bounce"), names, amounts),
)
needed = st.one_of(
    faults.filter(lambda fault: fault.words != "bounce"),
    st.builds(tree.Fault, st.just("bounce"), names, st.none()),
)
arguments = st.builds(tree.Argument, names, several(st.one_of(values, clocks), 1))
usuals = st.builds(
    tree.Usual, st.sampled_from(("at most", "at least", "usually")), st.one_of(figures, clocks)
)
standard_lines: st.SearchStrategy[tree.StandardLine] = st.one_of(
    st.builds(
        tree.ModelledOn,
        labels,
        maybe_label,
        st.sampled_from(("seen", "quoted", "memory", "practice")),
    ),
    st.builds(tree.Remark, st.sampled_from(("applies to", "caution")), labels),
    st.builds(
        tree.Takes,
        st.just(False),
        names,
        several(names, 1),
        st.one_of(st.none(), usuals),
        maybe_label,
    ),
    st.builds(tree.Takes, st.just(True), names, several(names, 1), st.none(), maybe_label),
    st.builds(tree.Needs, needed),
)
hours = st.one_of(st.just((None, None)), st.tuples(amounts, amounts))
often = st.builds(
    lambda times, between, on: tree.Often(times, between[0], between[1], on), numbers, hours, days
)
usage_lines: st.SearchStrategy[tree.UsageLine] = st.one_of(
    st.builds(tree.Use, names, st.none(), st.none(), often, maybe_label),
    st.builds(tree.Use, names, values, amounts, often, maybe_label),
    st.builds(tree.NightHours, amounts, amounts, maybe_label),
    st.builds(tree.Price, numbers, names, maybe_label),
    st.builds(tree.Standby, names, amounts, maybe_label),
)
scoped = st.builds(tree.ScopedForm, maybe_condition, forms, st.one_of(st.none(), amounts))
plain: st.SearchStrategy[tree.Declaration] = st.one_of(
    st.builds(tree.Claim, names, maybe_label, names, several(arguments)),
    st.builds(tree.Setting, names, st.one_of(figures, clocks)),
    st.builds(
        tree.Point,
        st.sampled_from(("contact", "lamp", "switch")),
        names,
        maybe_label,
        several(options),
    ),
    st.builds(tree.Door, names, maybe_label, several(door_lines)),
    st.builds(tree.Room, names, maybe_label, several(room_lines)),
    st.builds(tree.Rule, names, maybe_label, several(heads), several(statements)),
    st.builds(tree.AssumeCondition, st.sampled_from(("always", "never")), conditions),
    st.builds(tree.AssumeStays, names, values, st.sampled_from(("at least", "at most")), amounts),
    faults,
    st.builds(tree.Usage, maybe_label, several(usage_lines)),
    st.builds(
        tree.Requirement,
        names,
        maybe_label,
        st.builds(tree.ScopedForm, maybe_condition, forms, st.one_of(st.none(), amounts)),
    ),
)
overrides = several(st.builds(tree.Override, names, st.one_of(figures, clocks)))
declarations: st.SearchStrategy[tree.Declaration] = st.one_of(
    plain,
    st.builds(tree.Typical, names, maybe_label, several(plain)),
    st.builds(tree.Standard, names, maybe_label, several(standard_lines), scoped),
    st.builds(tree.Apply, names, several(names, 1), overrides),
    st.builds(
        tree.Site,
        labels,
        several(st.one_of(clause("latitude", figures), clause("night below", figures))),
    ),
)


@settings(
    max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
@given(several(declarations, 1))
def test_what_is_printed_reads_back_as_the_same_tree(found: tuple[tree.Declaration, ...]) -> None:
    file = tree.File(found)
    text = format_tree(file)
    again, mistakes = parse(SourceFile("job.dusk", text))
    assert mistakes == (), text
    assert again == file, text
    assert format_tree(again) == text


def test_the_canonical_text_has_one_layout() -> None:
    untidy = (
        'lamp   a "A"   2x20W   # a comment\nrule r\nretriggerable\nupon b changes provided c is open\ndo\n'
        "if c is open and (d is on\n or night) then\na on\nelse\nwait 1min 30 s\nend if\nend rule\n"
        "require q while night: never: a is on allowing 1 s end require\n"
    )
    tidy = (
        'lamp a "A" 2 x 20 W\n\nrule r\n  retriggerable\n  upon b changes provided c is open\n  do\n'
        "    if c is open and (d is on or night) then\n      a on\n    else\n"
        "      wait 1 min 30 s\n    end if\n"
        "end rule\n\nrequire q\n  while night: never: a is on\n  allowing 1 s\nend require\n"
    )
    found, mistakes = parse(SourceFile("job.dusk", untidy))
    assert mistakes == ()
    assert format_tree(found) == tidy
