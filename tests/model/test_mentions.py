"""Names and what they stand for: against the checked job, which finds them by a way of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.language import parse, tree
from verifier.language.library import library
from verifier.model import check
from verifier.model.mentions import Mentions, Symbol
from verifier.source import SourceFile, Sources

FOLDERS = sorted(
    {path.parent for path in (ROOT / "specs").glob("*/*.dusk")} - {ROOT / "specs" / "standard"}
)


def sources_of(folder: Path) -> Sources:
    paths = sorted(folder.glob("*.dusk"))
    return Sources(tuple(SourceFile(p.name, p.read_text(encoding="utf-8")) for p in paths))


def mentions_of(sources: Sources) -> Mentions:
    return Mentions([parse(file)[0] for file in sources.files], library())


def of_text(text: str) -> Mentions:
    return mentions_of(Sources((SourceFile("a.dusk", text),)))


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_each_place_of_a_name_is_the_name_as_it_is_written(folder: Path) -> None:
    sources = sources_of(folder)
    for mention in mentions_of(sources).all:
        if mention.span.file in sources.by_name:
            text = sources.by_name[mention.span.file].text
            written = text[mention.span.start : mention.span.end]
            assert {symbol.name for symbol in mention.symbols} == {written}


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_name_that_is_taken_out_is_missed_wherever_it_is_said_to_stand(folder: Path) -> None:
    """The model's own reading: with another name at its declaration each mention is unknown there."""
    sources = sources_of(folder)
    job, _ = check(sources, "j")
    assert job is not None
    mentions = mentions_of(sources)
    for symbol, places in mentions.declared.items():
        if symbol.group != "thing" or symbol.inside or len(places) != 1:
            continue
        span = places[0].span
        file = sources.by_name[span.file]
        text = file.text[: span.start] + "zzz_gone" + file.text[span.end :]
        changed = Sources(
            tuple(SourceFile(f.name, text) if f is file else f for f in sources.files)
        )
        _, findings = check(changed, "j")
        shift = len("zzz_gone") - (span.end - span.start)

        def moved(
            place: tuple[str, int], span: object = span, shift: int = shift, at: int = span.start
        ) -> tuple[str, int]:
            name, start = place
            return (name, start + shift if name == file.name and start > at else start)  # noqa: B023

        expected = {
            moved((m.span.file, m.span.start)) for m in mentions.of(symbol) if not m.declares
        }
        missed = {
            (f.labels[0].span.file, f.labels[0].span.start)
            for f in findings
            if f.code in ("unknown-name", "unknown-value")
        }
        assert expected == missed, symbol


TYPICALS = """\
button push
typical landing
  setting run_on 3 min
  lamp light
  rule walk
    retriggerable
    upon push pressed
    do
      light on
      wait run_on
      light off
    end rule
end typical
apply landing to up, down with run_on 5 min
require both
  never: up.light is on and down.light is off
end require
"""


def test_a_dotted_name_is_a_place_and_what_stands_there() -> None:
    mentions = of_text(TYPICALS)
    at = TYPICALS.index("up.light")
    place, light = mentions.at("a.dusk", at), mentions.at("a.dusk", at + 4)
    assert place is not None
    assert place.symbols == (Symbol("place", "", "up"),)
    assert light is not None
    assert light.symbols == (Symbol("thing", "landing", "light"),)
    assert len(mentions.of(light.symbols[0])) == 5


def test_a_setting_is_found_where_it_is_overridden() -> None:
    mentions = of_text(TYPICALS)
    assert [m.declares for m in mentions.of(Symbol("thing", "landing", "run_on"))] == [
        True,
        False,
        False,
    ]


def test_the_nearest_name_is_meant_inside_a_typical_and_else_the_job_around_it() -> None:
    text = "lamp light\nlamp other\n" + TYPICALS.replace("      light off", "      other off")
    mentions = of_text(text)
    own = mentions.at("a.dusk", text.index("light on"))
    outer = mentions.at("a.dusk", text.index("other off"))
    assert own is not None
    assert own.symbols == (Symbol("thing", "landing", "light"),)
    assert outer is not None
    assert outer.symbols == (Symbol("thing", "", "other"),)


def test_a_word_that_is_a_value_is_no_name_even_if_something_is_called_so() -> None:
    text = "lamp on\nlamp light\nrequire r\n  never: light is on and on is on\nend require\n"
    mentions = of_text(text)
    assert len(mentions.of(Symbol("thing", "", "on"))) == 2


def test_a_claim_names_its_standard_its_parameters_and_what_is_given() -> None:
    standard = library()[0]
    assert isinstance(standard, tree.Standard)
    parameter = standard.parameters[0].name.text
    text = f"lamp light\nrequire r as {standard.name.text} with {parameter} light\n"
    mentions = of_text(text)
    found = [m.symbols[0].group for m in mentions.all if m.span.file == "a.dusk" and not m.declares]
    assert found == ["standard", "parameter", "thing"]
