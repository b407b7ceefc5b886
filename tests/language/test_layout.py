"""The canonical layout of texts with comments: nothing but blanks changes, and once is enough."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.check import ROOT
from tests.language.test_formatter import declarations, several
from verifier.language import format_text, format_tree, parse, tree
from verifier.source import SourceFile

JOBS = sorted((ROOT / "specs").rglob("*.dusk")) + sorted((ROOT / "shared").rglob("*.dusk"))


def laid_out(text: str) -> str:
    """The layout, which is the layout of itself."""
    found, problems = format_text(SourceFile("job.dusk", text))
    assert problems == ()
    assert format_text(SourceFile("job.dusk", found)) == (found, ())
    return found


def solid(text: str) -> str:
    return re.sub(r"\s", "", text)


def comments(text: str) -> list[str]:
    """The comments of a text, found in another way than the layout does: character by character."""
    found: list[str] = []
    for line in text.split("\n"):
        in_label = False
        for place, character in enumerate(line):
            in_label ^= character == '"'
            if character == "#" and not in_label:
                found.append(line[place:].rstrip())
                break
    return found


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_job_of_ours_keeps_its_words_and_comments(path: Path) -> None:
    text = path.read_text("utf-8")
    if parse(SourceFile("job.dusk", text))[1]:
        pytest.skip("a job that shows a mistake")
    found = laid_out(text)
    assert comments(found) == comments(text)
    bare = [line for line in text.split("\n") if not line.lstrip().startswith("#")]
    if not comments("\n".join(bare)):
        assert solid(found) == solid(text)


OURS = ("boathouse", "dock", "path", "stair", "washroom")


@pytest.mark.parametrize(
    "path",
    [path for path in JOBS if path.parent.name.removesuffix("-first-draft") in OURS],
    ids=str,
)
def test_our_own_jobs_are_laid_out(path: Path) -> None:
    """`duskproof format specs/NAME` does it."""
    text = path.read_text("utf-8")
    assert format_text(SourceFile(path.name, text)) == (text, ())


remarks = st.sampled_from(
    ["", "", "", "", "  # why", "#no blank", '# a "label"', "\n", "\n\n\n# apart\n", "\n#"]
)


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
@given(several(declarations, 1), st.data())
def test_comments_anywhere_are_kept_in_turn_and_the_job_is_the_same(
    found: tuple[tree.Declaration, ...], data: st.DataObject
) -> None:
    file = tree.File(found)
    lines = format_tree(file).split("\n")
    parts = [f"{line}{data.draw(remarks)}" for line in lines]
    text = "\n".join(parts).replace(" and ", " and # within\n") + "\n"
    again, mistakes = parse(SourceFile("job.dusk", text))
    if mistakes or again != file:  # the remark fell into a label or between the words of one token
        return
    done = laid_out(text)
    assert comments(done) == comments(text)
    assert parse(SourceFile("job.dusk", done)) == (file, ())


def test_a_comment_stays_with_its_line() -> None:
    untidy = """\
# The whole file.


# Points.
contact door "Side #1 door" # at the back
lamp porch   "Porch" 18W
# of the rule
rule light   # why
retriggerable

# when
upon door changes
do

  # first
     porch on   # now
  wait 1min


  if door is open then
      # nothing to do
  else
   porch off
   # at the end
  end if
  # last
end rule
# after all
"""
    assert (
        laid_out(untidy)
        == """\
# The whole file.

# Points.
contact door  "Side #1 door"  # at the back
lamp    porch "Porch" 18 W

# of the rule
rule light  # why
  retriggerable

  # when
  upon door changes
  do
    # first
    porch on  # now
    wait 1 min

    if door is open then
      # nothing to do
    else
      porch off
      # at the end
    end if
    # last
end rule
# after all
"""
    )


def test_points_that_follow_each_other_are_a_table_and_their_comments_a_column() -> None:
    untidy = (
        'contact side_door "Side door" wired normally closed starts shut\nbutton push  # plain\n'
        'lamp bay "Bay" 2 x 58 W on power return last # two tubes\n\nflag a retained\n'
        "setting long_time 2 min\nsetting short 5 s\n"
        "door d\n raised by a\n lowered by b\nend door\n"
    )
    assert (
        laid_out(untidy)
        == """\
contact side_door "Side door"    wired normally closed starts shut
button  push                                           # plain
lamp    bay       "Bay" 2 x 58 W on power return last  # two tubes

flag a retained
setting long_time 2 min
setting short     5 s

door d
  raised  by a
  lowered by b
end door
"""
    )


def test_a_long_condition_is_broken_outside_its_parentheses_and_between_stays_whole() -> None:
    some = " and ".join(f"point_number_{number} is on" for number in range(7))
    text = (
        f"require r\n  always: ({some}) or between 22:00 and 06:00 implies a is on\nend require\n"
    )
    done = laid_out(text)
    assert max(map(len, done.split("\n"))) <= 100
    assert "between 22:00 and 06:00" in done
    assert solid(done) == solid(text)
    short = "assume always (a is on and b is on)  # one\n"
    assert laid_out("assume always (a is on and # one\n b is on)") == f"# one\n{short[:-8]}\n"


def test_once_a_day_may_be_written_in_two_ways() -> None:
    text = "usage # u\n  push pressed 1 times a day # p\nend usage\n"
    assert laid_out(text) == "usage  # u\n  push pressed once a day  # p\nend usage\n"


def test_a_text_with_mistakes_is_left_as_it_is() -> None:
    text = "lamp   a\nrule b do a on\n"
    found, problems = format_text(SourceFile("job.dusk", text))
    assert found == text
    assert problems


def test_texts_of_nothing_but_blanks_and_comments() -> None:
    assert laid_out("") == ""
    assert laid_out("\n\n  \n") == ""
    assert laid_out("\ufeff\n # a\n\n\n#b") == "# a\n\n#b\n"
