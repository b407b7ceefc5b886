"""What is too much: told in a sentence and quickly, never a traceback or a long wait."""

from __future__ import annotations

import pytest

from verifier.diagnostics import Diagnostic, Severity
from verifier.model import check
from verifier.model.applying import DEPTH_LIMIT, PLACES_LIMIT
from verifier.model.report import SPELLING_LIMIT, near_names
from verifier.source import SourceFile, Sources


def told(text: str) -> tuple[Diagnostic, ...]:
    return check(Sources((SourceFile("job.dusk", text),)), "job")[1]


def errors(text: str) -> list[str]:
    return [each.code for each in told(text) if each.severity is Severity.ERROR]


def nested(depth: int, names: str) -> str:
    """Typicals that apply one another, ``depth`` of them; the innermost has a lamp."""
    chain = "".join(
        f"typical t{n}\n apply t{n + 1} to {names}\nend typical\n" for n in range(1, depth)
    )
    return f"{chain}typical t{depth}\n lamp light\nend typical\napply t1 to z\n"


def test_typicals_may_be_nested_up_to_the_limit_and_no_deeper() -> None:
    assert errors(nested(DEPTH_LIMIT, "a")) == []
    assert errors(nested(DEPTH_LIMIT + 1, "a")) == ["job-too-large"]
    assert errors(nested(600, "a")) == ["job-too-large"]


def test_typicals_that_double_at_each_level_are_stopped() -> None:
    text = nested(DEPTH_LIMIT, "a, b").replace(" lamp light\n", "")
    assert errors(text) == ["job-too-large"]


def test_a_job_of_as_many_declarations_as_are_allowed_is_read() -> None:
    names = ", ".join(f"place_{n}" for n in range(PLACES_LIMIT // 100))
    text = "typical t\n" + "".join(f" lamp l{n}\n" for n in range(99)) + "end typical\n"
    assert errors(f"{text}apply t to {names}\n") == []
    more = ", ".join(f"more_{n}" for n in range(PLACES_LIMIT // 5_000))
    assert errors(f"{text}apply t to {names}, {more}\n") == ["job-too-large"]


@pytest.mark.parametrize(
    ("figure", "accepted"),
    [
        ("999999999999 s", True),
        ("0.999999999999 s", True),
        ("9999999999999 s", False),
        ("0.9999999999999 s", False),
        (f"{'9' * 6000} s", False),
        (f"{'9' * 6000} x 2 W", False),
        (f"level {'9' * 6000} of 254", False),
    ],
)
def test_figures_have_at_most_twelve_digits_on_each_side_of_the_point(
    figure: str, accepted: bool
) -> None:
    assert errors(f"setting run_on {figure}\n") == ([] if accepted else ["bad-figure"])


def test_of_very_many_names_only_those_that_differ_in_capitals_are_called_near() -> None:
    """Spelling is compared with few names: with many it took 50 ms for each wrong one."""
    many = [f"lamp_number_{n}" for n in range(2 * SPELLING_LIMIT)]
    assert near_names("lamp_numbr_7", many) == []
    assert near_names("Lamp_Number_7", many) == ["lamp_number_7"]
    assert "lamp_number_7" in near_names("lamp_numbr_7", many[:20])


def test_near_names_are_at_most_three_and_none_is_far() -> None:
    known = ["bay_lights", "bay_light_2", "bay_light_3", "bay_light_4", "extractor"]
    assert len(near_names("bay_light", known)) == 3
    assert near_names("kettle", known) == []
