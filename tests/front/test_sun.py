"""`duskproof sun`: the table, the picture, JSON, and wrong input."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.check import ROOT
from tests.front.test_graph import check_words
from verifier.front import command
from verifier.front.sun_picture import sun_svg
from verifier.front.sun_text import sun_text
from verifier.front.sun_year import bands_of, days_of, sun_year
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

PATH = ROOT / "specs" / "path"


def job_at(latitude: str, longitude: str, timezone: str, altitude: str = "-0.833") -> Job:
    text = (
        f'site "S <&> 1"\n latitude {latitude} deg\n longitude {longitude} deg\n'
        f' timezone "{timezone}"\n night below {altitude} deg\nend site\n'
        "lamp path\nrule on\n upon at 22:30 on mon\n upon night begins\n"
        " provided between 22:00 and 06:00\n do\n path on\nend rule\n"
        "rule off\n upon day begins\n do\n path off\nend rule\n"
    )
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    return job


def test_london_s_turns_are_those_of_the_almanac(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """NOAA's formula gives 04:42:59 to 21:21:23 BST and 08:03:55 to 15:53:39 GMT (2024)."""
    (tmp_path / "job.dusk").write_text(
        'site "London"\nlatitude 51.5 deg\nlongitude -0.1167 deg\ntimezone "Europe/London"\n'
        "end site\nlamp a\n",
        encoding="utf-8",
    )
    assert command.run(["sun", str(tmp_path), "--year", "2024", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    turns = {turn["at"]: turn["begins"] for turn in found["turns"]}
    for at, begins in (
        ("2024-06-20T04:42:59+01:00", "day"),
        ("2024-06-20T21:21:23+01:00", "night"),
        ("2024-12-21T08:03:55+00:00", "day"),
        ("2024-12-21T15:53:39+00:00", "night"),
    ):
        assert turns[at] == begins
    assert [c["put_on_s"] for c in found["clock_changes"]] == [3600, -3600]
    assert found["missing"] == []


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_text_fits_and_names_the_times_of_the_job(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    assert command.run(["sun", str(PATH), "--year", "2026"]) == 0
    text = capsys.readouterr().out
    assert "On 29 March the clock is put on by 1 h, to 04:00." in text
    assert "The shortest night begins on 20 June: 3 h 20 min." in text
    assert "at 23:15" in text
    table = [line for line in text.splitlines() if line.startswith(("January", "December"))]
    assert len(table) == 2


@pytest.mark.parametrize(
    ("latitude", "longitude", "timezone"),
    [
        ("52.21", "0.12", "Europe/London"),
        ("69.65", "18.96", "Europe/Oslo"),
        ("-90", "0", "Antarctica/McMurdo"),
        ("90", "179.9", "Pacific/Auckland"),
        ("-31.55", "159.08", "Australia/Lord_Howe"),
        ("0", "-179.9", "Pacific/Apia"),
    ],
)
def test_every_day_is_drawn_from_midnight_to_midnight(
    latitude: str, longitude: str, timezone: str
) -> None:
    job = job_at(latitude, longitude, timezone)
    assert job.site is not None
    found = sun_year(job, job.site, 2026)
    days = bands_of(job.site, 2026)
    assert len(days) == len(days_of(2026)) == 365
    for bands in days:
        assert bands[0].begin == 0
        assert bands[-1].end == 86_400
        assert all(0 <= band.depth <= 4 for band in bands)
        covered = sum(band.end - band.begin for band in bands)
        assert 86_400 - 3600 <= covered <= 86_400 + 3600
    root = ElementTree.fromstring(sun_svg(found))
    assert root.tag.endswith("svg")
    texts = [element.text for element in root.iter() if element.tag.endswith("text")]
    assert "S <&> 1, 2026" in texts
    assert "at 22:30 on mon (dotted line)" in texts
    check_words(sun_svg(found))
    from verifier.front.paint import Paint

    plain = sun_text(found, Paint(False, True), 80)
    assert re.search(r"^23:00 \|", plain, re.MULTILINE)


def test_without_a_site_it_says_what_to_write(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "job.dusk").write_text('site "S"\n reaction within 1 s\nend site\nlamp a\n')
    assert command.run(["sun", str(tmp_path)]) == 2
    text = capsys.readouterr().out
    assert "no-site" in text
    assert "latitude" in text


def test_a_picture_that_cannot_be_written_is_an_error(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    target = tmp_path / "none" / "sun.svg"
    assert command.run(["sun", str(PATH), "--year", "2026", "-o", str(target)]) == 2
    assert "picture-not-written" in capsys.readouterr().out
    good = tmp_path / "sun.svg"
    assert command.run(["sun", str(PATH), "--year", "2026", "-o", str(good)]) == 0
    assert good.read_text(encoding="utf-8").startswith("<svg")


def test_a_site_with_a_long_name_and_many_times_is_drawn_for_a_telephone() -> None:
    """Twelve times, some at once, all told below; no words overlap, and the whole stays narrow."""
    times = "".join(f"  upon at {h:02}:{m:02}\n" for h in (5, 6, 22) for m in (0, 5, 30))
    reads = "".join(
        f"    if between {h:02}:00 and 06:05 on mon, tue, wed, thu then\n      a on\n    end if\n"
        for h in (22, 23, 5)
    )
    text = (
        'site "The landing stage of the rowing club at the far end of the long lake"\n'
        '  latitude 52 deg\n  longitude 0 deg\n  timezone "Europe/London"\nend site\nlamp a\n'
        f"rule r\n{times}  do\n{reads}end rule\n"
    )
    job, found = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, found
    assert job.site is not None
    picture = sun_svg(sun_year(job, job.site, 2026))
    check_words(picture)
    width = float(re.findall(r'viewBox="0 0 (\d+) ', picture)[0])
    assert width <= 600  # at 390 pixels the words are still 8 pixels high
    texts = [e.text for e in ElementTree.fromstring(picture).iter() if e.tag.endswith("text")]
    assert sum("(dotted line)" in (t or "") for t in texts) == 9
    numbers = [n for t in texts if t and re.fullmatch(r"[\d ]+", t) for n in t.split()]
    assert sorted(numbers, key=int) == sorted([*map(str, range(1, 13))] * 2, key=int)
