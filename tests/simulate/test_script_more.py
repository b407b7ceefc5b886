"""Scripts with fades, faults, a clock and a reaction time, and what they cannot play."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.check import ROOT
from verifier.front import command

STAIR = ROOT / "specs" / "stair"
DOCK = ROOT / "specs" / "dock"


def tried(
    capsys: pytest.CaptureFixture[str], folder: Path, script: str = "", job: str = ""
) -> tuple[int, str]:
    if job:
        (folder / "job.dusk").write_text(job, encoding="utf-8")
    if script:
        (folder / "a.run").write_text(script, encoding="utf-8")
    code = command.run(["try", str(folder)])
    return code, " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("folder", [STAIR, DOCK])
def test_the_scripts_of_the_demos_are_kept(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = tried(capsys, folder)
    assert code == 0, text
    assert "0 broken" in text


REACTION = """\
site "Works"
  reaction within 200 ms
end site
button push
lamp light
rule press
  upon push pressed
  do
    light on
end rule
"""


def test_a_controller_reacts_at_the_latest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = "at 1 s push pressed\nat 1199 ms expect light is off\nat 1200 ms expect light is on\n"
    code, text = tried(capsys, tmp_path, script, REACTION)
    assert code == 0, text


CLOCK = """\
lamp light
rule evening
  upon at 22:00
  do
    light on
end rule
rule morning
  upon at 06:00
  do
    light off
end rule
"""


def test_a_free_clock_goes_round(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It begins with the first time that the job reads: at 06:00."""
    script = (
        "at 15 h expect light is off\nat 16 h expect light is on\nat 23 h expect light is on\n"
        "at 24 h expect light is off\nuntil 25 h\n"
    )
    code, text = tried(capsys, tmp_path, script, CLOCK)
    assert code == 0, text
    assert "16 h (22:00) it is 22:00" in text


def test_a_site_s_sun_is_not_made_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = 'site "S"\n latitude 52 deg\n longitude 0 deg\n timezone "Europe/London"\nend site\n'
    code, text = tried(capsys, tmp_path, "at 1 h expect light is off\n", site + CLOCK)
    assert code == 2
    assert "script-calendar" in text


FADES = """\
button up
button down
dimmer strip
lamp half
rule rise
  retriggerable
  upon up pressed
  do
    fade strip to 100 % over 10 s
end rule
rule sink
  retriggerable
  upon down pressed
  do
    fade strip to 0 % over 10 s
end rule
rule halves
  upon strip becomes above 50 %
  do
    half on
end rule
"""


def test_a_fade_from_a_level_that_is_not_told_is_not_played(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = FADES.replace("becomes above 50 %", "becomes 50 %")
    code, text = tried(capsys, tmp_path, "at 0 s up pressed\nat 5 s expect half is on\n", job)
    assert code == 0, text
    script = "at 0 s up pressed\nat 7 s down pressed\nuntil 20 s\n"
    code, text = tried(capsys, tmp_path, script, job)
    assert code == 2
    assert "script-fade" in text
