"""What can follow where a text breaks off: at each token of the good jobs the token that does follow."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.check import ROOT
from tests.language.test_highlighting import tokens_of
from verifier.language.unfinished import unfinished

JOBS = sorted((ROOT / "specs").glob("*/*.dusk"))


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_the_next_token_of_a_good_job_is_among_those_that_can_follow(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    tokens = tokens_of(text)
    for token in tokens[:: max(1, len(tokens) // 25)]:
        place = unfinished(text[: token.start])
        assert token.kind in place.usable, (token, place)


def test_a_place_knows_its_declaration_and_the_typical_around_it() -> None:
    place = unfinished(
        "typical landing\n  lamp light\n  rule a\n    upon x pressed\n    do\n      "
    )
    assert (place.block, place.in_body, place.typical) == ("RULE", True, "landing")
    assert {"WAIT", "NAME", "_END_RULE"} <= place.usable
    between = unfinished("typical landing\n  lamp light\nend typical\n")
    assert (between.block, between.typical) == ("", "")
    assert "LAMP" in between.usable


def test_what_is_wrong_before_does_not_hide_what_can_follow() -> None:
    place = unfinished("rule a\n  upon !!\nend rule\nlamp b\nrequire c\n  ")
    assert {"ALWAYS", "NEVER", "WHEN"} <= place.usable
