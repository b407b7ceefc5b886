"""Figures on both sides of what is allowed, and defaults, from the contract's words."""

from __future__ import annotations

from fractions import Fraction

import pytest

from verifier.diagnostics import Severity
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

LAMP = 'lamp light "Light" 10 W\nrequire dark\n  never: light is on\nend require\n'


def checked(text: str) -> tuple[Job | None, list[str]]:
    job, told = check(Sources((SourceFile("job.dusk", text + LAMP),)), "job")
    return job, [each.code for each in told if each.severity is Severity.ERROR]


def site(latitude: str, longitude: str, more: str = "") -> str:
    place = f"  latitude {latitude} deg\n  longitude {longitude} deg\n"
    return f'site "Quay"\n{place}  timezone "Europe/London"\n{more}end site\n'


@pytest.mark.parametrize(
    ("latitude", "longitude", "codes"),
    [
        # A latitude goes to 90 degrees, a longitude to 180, on both sides.
        ("90", "180", []),
        ("-90", "-180", []),
        ("90.1", "0", ["out-of-range"]),
        ("-90.1", "0", ["out-of-range"]),
        ("0", "180.1", ["out-of-range"]),
        ("0", "-180.1", ["out-of-range"]),
    ],
)
def test_how_far_a_site_can_lie(latitude: str, longitude: str, codes: list[str]) -> None:
    assert checked(site(latitude, longitude))[1] == codes


def test_night_is_from_sunset_to_sunrise_if_nothing_else_is_said() -> None:
    """ "night below -0.833 deg, sun altitude; the default is sunset to sunrise": the usual altitude
    of the sun's centre as its upper edge is seen to rise, 34 min of refraction and 16 of radius."""
    default, _ = checked(site("52.21", "0.12"))
    written, _ = checked(site("52.21", "0.12", "  night below -0.833 deg\n"))
    assert default is not None
    assert written is not None
    assert default.site is not None
    assert written.site is not None
    assert default.site.night_below_deg == written.site.night_below_deg == Fraction("-0.833")
    assert abs(default.site.night_below_deg * 60 + 34 + 16) < Fraction(1, 10)


@pytest.mark.parametrize(
    ("figure", "codes"),
    [("100 %", []), ("1 %", []), ("101 %", ["out-of-range"]), ("100.5 %", ["out-of-range"])],
)
def test_a_setting_is_a_level_up_to_a_hundred_per_cent(figure: str, codes: list[str]) -> None:
    assert checked(f"setting full {figure}\n")[1] == codes


@pytest.mark.parametrize("figure", ["5", "5 x", "200 %", "22:30", "9999999999999 s"])
def test_a_figure_that_does_not_fit_a_typical_s_setting_is_told(figure: str) -> None:
    text = (
        "typical landing\n  setting run_on 3 min\n  button push\n  lamp bulb\n"
        "  rule lit\n    retriggerable\n    upon push pressed\n    do\n      bulb on\n"
        "      wait run_on\n      bulb off\n  end rule\nend typical\n"
        f"apply landing to floor_1 with run_on {figure}\n"
    )
    job, codes = checked(text)
    assert job is None
    assert codes
