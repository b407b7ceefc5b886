"""Diagnostics as text: carets under the span, nothing hidden, nothing wider than the terminal."""

from __future__ import annotations

import unicodedata

from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.diagnostic_text import diagnostic_text, in_order, snippet
from verifier.front.paint import PLAIN, Paint
from verifier.front.shown import columns, shown
from verifier.source import SourceFile, Sources, Span

TEXT = 'lamp bay "Bay lights" 80 W\n\tbay_lihgts on\n'


def sources_of(text: str, name: str = "a.dusk") -> Sources:
    return Sources((SourceFile(name, text),))


def diagnostic(start: int, end: int, **more: str) -> Diagnostic:
    return Diagnostic(
        "unknown-name",
        Severity.ERROR,
        more.get("message", "there is no point called bay_lihgts"),
        (Label(Span("a.dusk", start, end), more.get("label", "")),),
        more.get("hint", ""),
    )


def test_a_diagnostic_gives_place_message_line_carets_and_remedy() -> None:
    start = TEXT.index("bay_lihgts")
    found = diagnostic_text(
        diagnostic(start, start + 10, hint="Did you mean bay?"), sources_of(TEXT), PLAIN, 100
    )
    assert found.split("\n") == [
        "a.dusk:2:2: error: there is no point called bay_lihgts  [unknown-name]",
        "    2 |     bay_lihgts on",
        "      |     ^^^^^^^^^^",
        "  do: Did you mean bay?",
    ]


def test_a_long_remedy_goes_on_under_its_first_word_and_loses_none() -> None:
    hint = "Declare it, or write the name of one that is.\n    lamp bay"
    found = diagnostic_text(diagnostic(0, 4, hint=hint), sources_of(TEXT), PLAIN, 40)
    assert found.split("\n")[3:] == [
        "  do: Declare it, or write the name of",
        "      one that is.",
        "          lamp bay",
    ]


def test_a_second_place_is_shown_too() -> None:
    two = Diagnostic(
        "name-twice",
        Severity.ERROR,
        "bay is declared twice",
        (Label(Span("a.dusk", 5, 8)), Label(Span("a.dusk", 28, 31), "first here")),
    )
    found = diagnostic_text(two, sources_of(TEXT), PLAIN, 100)
    assert "  see also a.dusk:2:2: first here" in found.split("\n")
    assert [line.strip(" |") for line in found.split("\n") if "^" in line] == ["^^^", "^^^"]


def test_a_place_without_text_is_only_named() -> None:
    missing = Diagnostic(
        "no-such-folder", Severity.ERROR, "there is no folder", (Label(Span("jobs/x", 0, 0)),)
    )
    found = diagnostic_text(missing, sources_of(TEXT), PLAIN, 80)
    assert found == "jobs/x: error: there is no folder  [no-such-folder]"


def test_control_and_direction_characters_are_shown_as_escapes() -> None:
    text = 'lamp a "\x1b[2Jred\u202e\u2066" \x00\n'
    found = diagnostic_text(
        diagnostic(8, 12, message="bad \x1b[31m label\u202e"), sources_of(text), PLAIN, 100
    )
    assert "<U+001B>[2Jred<U+202E><U+2066>" in found
    assert not any(unicodedata.category(c) in ("Cc", "Cf") for c in found.replace("\n", ""))


def test_carets_stand_under_wide_characters() -> None:
    text = 'lamp 倉庫 "x" zzz\n'
    line, carets = snippet(Span("a.dusk", 12, 15), sources_of(text), PLAIN, 80)
    assert line.endswith("zzz")
    assert columns(line) == columns(carets)
    assert carets.endswith(" ^^^")


def test_a_long_line_is_cut_around_the_place() -> None:
    text = "a" * 3000 + " HERE " + "b" * 3000 + "\n"
    line, carets = snippet(Span("a.dusk", 3001, 3005), sources_of(text), PLAIN, 80)
    assert "HERE" in line
    assert columns(line) <= 80
    assert line[carets.index("^") :].startswith("HERE")
    assert line.count("…") == 2


def test_a_place_at_the_end_of_the_file_has_a_caret() -> None:
    assert snippet(Span("a.dusk", 6, 6), sources_of("lamp a"), PLAIN, 80) == (
        "    1 | lamp a",
        "      |       ^",
    )
    assert snippet(Span("a.dusk", 99, 120), sources_of("lamp a\n"), PLAIN, 80)[1].endswith("^")


def test_colour_adds_nothing_but_colour() -> None:
    import re

    plain = diagnostic_text(diagnostic(5, 8, hint="x"), sources_of(TEXT), PLAIN, 80)
    coloured = diagnostic_text(diagnostic(5, 8, hint="x"), sources_of(TEXT), Paint(True), 80)
    assert coloured != plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_diagnostics_come_by_file_and_place_each_once() -> None:
    sources = Sources((SourceFile("a.dusk", TEXT), SourceFile("b.dusk", TEXT)))

    def at(file: str, start: int, severity: Severity = Severity.ERROR) -> Diagnostic:
        return Diagnostic("c", severity, "m", (Label(Span(file, start, start + 1)),))

    given_order = (
        at("b.dusk", 0),
        at("a.dusk", 9),
        at("a.dusk", 3, Severity.WARNING),
        at("--only", 0),
        at("a.dusk", 9),
        at("a.dusk", 3),
    )
    assert in_order(sources, given_order) == (
        at("a.dusk", 3),
        at("a.dusk", 3, Severity.WARNING),
        at("a.dusk", 9),
        at("b.dusk", 0),
        at("--only", 0),
    )


LINES = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=300)


@settings(deadline=None, max_examples=200)
@given(text=LINES, start=st.integers(0, 310), length=st.integers(0, 60), width=st.integers(40, 140))
def test_any_span_of_any_text_fits_and_has_its_carets_under_its_own_text(
    text: str, start: int, length: int, width: int
) -> None:
    sources = sources_of(text)
    found = snippet(Span("a.dusk", start, start + length), sources, PLAIN, width)
    if not text:
        assert found == ()
        return
    line, carets = found
    assert columns(line) <= width
    assert columns(carets) <= width + 1
    assert shown(line) == line
    at = min(start, len(text))
    rest = sources.files[0].line(sources.files[0].line_and_column(at)[0])
    column = sources.files[0].line_and_column(at)[1]
    marked = shown(rest[column - 1 : column - 1 + max(length, 1)])
    if marked.strip() and columns(marked[0]) == 1:
        before = columns(carets[: carets.index("^")])
        taken = 0
        for number, character in enumerate(line):
            if taken == before and not unicodedata.combining(character):
                assert marked.startswith(line[number])
                break
            taken += columns(character)
