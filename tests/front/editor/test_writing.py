"""Completion, names and corrections: pure functions, without a server."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.check import ROOT
from tests.language.test_highlighting import tokens_of
from verifier.explain.edits import edited
from verifier.front.command import run
from verifier.front.editor.completion import offers_at
from verifier.front.editor.fixes import fixes
from verifier.front.editor.hover import hover_of
from verifier.front.editor.jobs import OpenJob
from verifier.front.editor.renaming import Refused, rename
from verifier.language.library import library
from verifier.model import check
from verifier.model.checking import parsed
from verifier.model.mentions import Mentions, Symbol
from verifier.source import SourceFile, Sources

POINTS = """\
contact gate "Gate" wired normally open
limit up_stop
limit down_stop
switch motor
detector pir "PIR in the hall"
button push
lamp light "Light" 20 W
dimmer strip 10 W
flag away
setting run_on 2 min
door shutter
  raised by up_stop
  lowered by down_stop
  travel 5 s to 9 s
end door
typical landing
  lamp lit
  setting delay 1 min
  require off
    never: lit is on
  end require
end typical
apply landing to up, down
rule walk
  retriggerable
  upon push pressed
  do
    light on
    wait run_on
    light off
end rule
"""


def sources_of(*texts: str) -> Sources:
    return Sources(tuple(SourceFile(f"{n}.dusk", text) for n, text in enumerate(texts)))


def mentions_of(sources: Sources) -> Mentions:
    return Mentions([parsed(file)[0] for file in sources.files])


def offered(text: str, sort: str = "") -> list[str]:
    """What is offered where a text breaks off, of one sort if one is named."""
    mentions = mentions_of(sources_of(POINTS))
    return [each.text for each in offers_at(text, mentions).offers if sort in ("", each.sort)]


# ---------------------------------------------------------------- completion


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("rule a\n  upon x pressed\n  do\n    ", ["light", "strip", "away", "up.lit", "down.lit"]),
        ("rule a\n  upon x pressed\n  do\n    cancel ", ["walk"]),
        ("rule a\n  upon x pressed\n  do\n    fade ", ["strip"]),
        ("rule a\n  upon x pressed\n  do\n    wait ", ["run_on", "up.delay", "down.delay"]),
        ("door d\n  raised by ", ["up_stop", "down_stop"]),
        ("door d\n  moving by ", ["motor"]),
        ("room r\n  seen by ", ["pir"]),
        ("room r\n  entered by ", ["gate", "shutter"]),
        ("apply ", ["landing"]),
        ("apply landing to a with ", ["delay"]),
        ("consider both limits of ", ["shutter"]),
        ("require r\n  every trigger of ", ["walk"]),
    ],
)
def test_names_of_the_kind_that_fits_are_offered(text: str, names: list[str]) -> None:
    assert offered(text, "name") == names


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("rule a\n  upon gate becomes ", ["shut", "open"]),
        ("rule a\n  upon x pressed\n  provided pir is ", ["vacant", "occupied"]),
        ("rule a\n  upon x pressed\n  do\n    light ", ["off", "on"]),
        ("require r\n  always: shutter is ", ["raised", "lowered", "moving", "stopped"]),
        ("require r\n  always: walk is ", ["running"]),
        ("require r\n  always: up.lit is ", ["off", "on"]),
        ("rule a\n  upon pir has stayed ", ["vacant", "occupied"]),
        ("contact c starts ", ["shut", "open"]),
        ("flag f starts ", ["no", "yes"]),
        ("assume gate stays ", ["shut", "open"]),
        ("lamp l on power return ", ["off", "on", "last"]),
        ("contact c wired normally ", ["open", "closed"]),
    ],
)
def test_the_values_of_the_thing_are_offered(text: str, values: list[str]) -> None:
    assert offered(text, "value") == values


def test_a_rule_is_not_offered_what_it_cannot_read_and_a_requirement_is() -> None:
    assert "shutter" not in offered("rule a\n  upon ", "name")
    assert "shutter" in offered("require r\n  always: ", "name")
    assert "push" not in offered("require r\n  always: ", "name")
    assert "push" in offered("require r\n  when ", "name")


def test_words_come_by_the_grammar_and_phrases_whole() -> None:
    assert {"lamp", "rule", "require"} <= set(offered(""))
    assert offered("rule a\n  upon x pressed\n  do\n    light on\nend ru") == [
        "end rule",
        "end run",
    ]
    assert "elsif" in offered("rule a\n  upon x pressed\n  do\n    if away is yes then\n    els")
    assert "elsif" not in offered("rule a\n  upon x pressed\n  do\n    els")


def test_nothing_is_offered_in_comments_and_labels_or_for_a_new_name() -> None:
    assert offered("# lamp ") == []
    assert offered('lamp x "the ') == []
    assert offered("lamp ", "name") == []
    assert offered("rule ", "name") == []


JOBS = sorted((ROOT / "specs").glob("*/rules.dusk")) + sorted(
    (ROOT / "specs").glob("*/promises.dusk")
)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_stands_in_good_jobs_is_offered_where_it_stands(path: Path) -> None:
    """Every name, value and word of the job, each tried at its own place."""
    paths = sorted(path.parent.glob("*.dusk"))
    sources = Sources(tuple(SourceFile(p.name, p.read_text(encoding="utf-8")) for p in paths))
    mentions = mentions_of(sources)
    text = sources.by_name[path.name].text
    tokens = tokens_of(text)
    before = ""
    for token in tokens:
        declares = before in ("rule", "require")
        before = token.text
        if declares or token.kind in ("LABEL", "FIGURE", "NUMBER", "CLOCK", "LPAR", "RPAR"):
            continue
        if token.kind in ("COLON", "COMMA", "_COMMA_AT_MOST"):
            continue
        found = [each.text for each in offers_at(text[: token.start], mentions).offers]
        assert " ".join(token.text.split()) in found, (token, found)


# ---------------------------------------------------------------- renaming


FOLDERS = sorted(
    {path.parent for path in (ROOT / "specs").glob("*/*.dusk")} - {ROOT / "specs" / "standard"}
)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_name_renamed_and_renamed_back_leaves_the_text_and_between_means_the_same(
    folder: Path,
) -> None:
    """Means the same: the checked jobs as they are shown differ in the name alone."""
    paths = sorted(folder.glob("*.dusk"))
    sources = Sources(tuple(SourceFile(p.name, p.read_text(encoding="utf-8")) for p in paths))
    mentions = mentions_of(sources)
    job, _ = check(sources, "j")
    assert job is not None
    for symbol, places in mentions.declared.items():
        mention = mentions.at(places[0].span.file, places[0].span.start)
        assert mention is not None
        edits = rename(sources, mentions, mention, "zz_other")
        assert not isinstance(edits, Refused), edits
        after = edited(sources, edits)
        renamed, _ = check(after, "j")
        assert renamed is not None
        assert plain(repr(renamed)).replace("zz_other", symbol.name) == plain(repr(job))
        again = mentions_of(after)
        back = again.of(Symbol(symbol.group, symbol.inside, "zz_other"))[0]
        edits = rename(after, again, back, symbol.name)
        assert not isinstance(edits, Refused), edits
        assert edited(after, edits) == sources


def plain(shown: str) -> str:
    """Without places, which move with the length of the name."""
    return re.sub(r"Span\([^)]*\)", "Span()", shown)


@pytest.mark.parametrize(
    ("name", "new", "why"),
    [
        ("light", "2nd", "is no name"),
        ("light", "a.b", "is no name"),
        ("light", "night", "cannot be a name"),
        ("light", "strip", "called strip already"),
        ("landing", "landing", ""),
    ],
)
def test_a_name_that_cannot_be_is_refused_with_the_reason(name: str, new: str, why: str) -> None:
    sources = sources_of(POINTS)
    mentions = mentions_of(sources)
    group = "typical" if name == "landing" else "thing"
    mention = mentions.of(Symbol(group, "", name))[0]  # type: ignore[arg-type]
    found = rename(sources, mentions, mention, new)
    if why:
        assert isinstance(found, Refused)
        assert why in found.words
    else:
        assert found == ()


def test_nothing_is_renamed_while_a_file_cannot_be_read() -> None:
    """The place in the line with the mistake would keep the old name."""
    sources = sources_of(
        "button push\nlamp light\n",
        "rule r\n  upon push pressed\n  do\n    light off of\nend rule\n",
    )
    mentions = mentions_of(sources)
    found = rename(sources, mentions, mentions.of(Symbol("thing", "", "light"))[0], "glow")
    assert isinstance(found, Refused)
    assert "1.dusk has a mistake" in found.words


def test_a_name_that_would_catch_what_another_means_is_refused() -> None:
    """In the typical `light` is the lamp of the job around it; a lamp of its own so called catches it."""
    text = (
        "button push\nlamp light\ntypical t\n  lamp own\n  rule r\n    upon push pressed\n    do\n"
        "      light on\n      own on\n  end rule\nend typical\napply t to here\n"
    )
    sources = sources_of(text)
    mentions = mentions_of(sources)
    found = rename(sources, mentions, mentions.of(Symbol("thing", "t", "own"))[0], "light")
    assert isinstance(found, Refused)
    found = rename(sources, mentions, mentions.of(Symbol("thing", "", "light"))[0], "own")
    assert isinstance(found, Refused)


# ---------------------------------------------------------------- corrections


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("    wait run_onn\n", "    wait run_on\n"),
        ("    if away == yes then\n      light on\n    end if\n", "    if away is yes then\n"),
        ("    if not away is yse then\n      light on\n    end if\n", "away is yes then\n"),
        ("    if away is not yes then\n      light on\n    end if\n", "if not away is yes then\n"),
        ("    if away is yes\n      light on\n    end if\n", "if away is yes then\n"),
        ("    turn on light\n", "    light on\n"),
        ("    light = on\n", "    light on\n"),
        ("    wait 30\n", "    wait 30 s\n"),
    ],
)
def test_a_hint_becomes_a_correction_that_works(wrong: str, right: str) -> None:
    text = POINTS.replace("    wait run_on\n", wrong)
    sources = sources_of(text)
    _, findings = check(sources, "j")
    assert findings
    found = fixes(sources, "j", findings[0])
    assert found, findings[0]
    after = edited(sources, (found[0].edit,))
    assert right in after.files[0].text
    assert check(after, "j")[0] is not None


def test_a_missing_end_is_written() -> None:
    text = POINTS.replace("end rule\n", "") + "require r\n  never: light is on\nend require\n"
    sources = sources_of(text)
    _, findings = check(sources, "j")
    found = fixes(sources, "j", findings[0])
    assert [each.words for each in found] == ["Write `end rule`"]
    assert check(edited(sources, (found[0].edit,)), "j")[0] is not None


def test_what_only_the_author_knows_is_not_offered() -> None:
    text = POINTS.replace("    wait run_on\n", "    wait until away\n")
    sources = sources_of(text)
    _, findings = check(sources, "j")
    assert "VALUE" in findings[0].hint
    assert fixes(sources, "j", findings[0]) == ()


# ---------------------------------------------------------------- without the extra


def test_without_its_library_the_server_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in [n for n in sys.modules if n.split(".")[0] in ("pygls", "lsprotocol")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.delitem(sys.modules, "verifier.front.editor.server", raising=False)
    monkeypatch.setitem(sys.modules, "lsprotocol", None)
    monkeypatch.setitem(sys.modules, "pygls", None)
    assert run(["serve-editor"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert 'pip install "duskproof[editor]"' in err


def test_a_claim_tells_what_its_standard_says() -> None:
    standard = library()[0]
    text = f"lamp light\nrequire r as {standard.name.text} with {standard.parameters[0].name.text} light\n"
    job = OpenJob(None, "j")
    job.put("0.dusk", text)
    reading = job.read()
    mention = reading.mentions.at("0.dusk", text.index(" as ") + 5)
    assert mention is not None
    told = hover_of(mention, reading.mentions, reading, ())
    assert "Modelled on" in told
    assert "```duskproof" in told
