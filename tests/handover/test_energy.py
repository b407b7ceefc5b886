"""Energy: published sums, formulas against the simulation, bounds above both.

Published sums: read on public pages of electricity suppliers and lamp makers, as collected in the
project's table of trade facts ("seen"). Formulas: the Poisson process and two queues, from memory.
"""

from __future__ import annotations

from fractions import Fraction
from math import exp
from pathlib import Path

import pytest

from verifier.handover.energy import Energy, Told, energy, kwh, mean, money
from verifier.handover.expected import expected
from verifier.handover.live import Live
from verifier.handover.simulated import plain_job, resting, week_starts
from verifier.handover.year import NoNights, year_of
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

SPECS = Path(__file__).resolve().parents[2] / "specs"
SILENT = Told(lambda number: None, lambda name: None)


def job_of(text: str) -> Job:
    job, told = check(Sources((SourceFile("job.dusk", text),)), "job")
    assert job is not None, told
    return job


def folder(name: str, more: str = "") -> Job:
    files = [SourceFile(p.name, p.read_text()) for p in sorted((SPECS / name).glob("*.dusk"))]
    job, told = check(Sources((*files, SourceFile("more.dusk", more))), name)
    assert job is not None, told
    return job


def played(job: Job, weeks: int = 4, seed: int = 1, year: int = 2026) -> Energy:
    return energy(job, year, weeks, seed, 20.0, 2, SILENT)


def test_published_sums_come_out() -> None:
    # seen on public pages: 200 W x 4 h x 120 d = 96 kWh, at 8.5 c $8.16
    assert kwh(Fraction(200), Fraction(4 * 120)) == 96
    assert money(96 * Fraction("0.085")) == "8.16"
    # seen: 270 W x 4 h x 365 d = 394.2 kWh -> $33.51 (another page prints 33.50: it rounds twice)
    assert kwh(Fraction(270), Fraction(4 * 365)) == Fraction("394.2")
    assert money(Fraction("394.2") * Fraction("0.085")) == "33.51"
    # seen: 250 W x 5 h x 365 d = 456.25 kWh x $0.17 = $77.56
    assert kwh(Fraction(250), Fraction(5 * 365)) == Fraction("456.25")
    assert money(Fraction("456.25") * Fraction("0.17")) == "77.56"
    # EN 15193: LENI = sum of P F (tD Fo + tN Fo) / A; 10 W/m2, 2250 + 250 h, Fo 0.9 (computed, not published)
    assert kwh(Fraction(10), Fraction("0.9") * (2250 + 250)) == Fraction("22.5")
    # computed: stand-by of 0.4 W all year = 3.5 kWh
    assert round(kwh(Fraction("0.4"), Fraction(8760)), 1) == Fraction("3.5")


DAILY = """
lamp light {power} W
button other
rule evening
  upon at 18:00
  do
    light on
end rule
rule late
  upon at {end}
  do
    light off
end rule
usage
  other pressed once a day
  a kWh costs {price} USD
end usage
"""


@pytest.mark.parametrize(
    ("power", "end", "price", "energy_kwh", "cost"),
    [(270, "22:00", "0.085", 394.2, "33.51"), (250, "23:00", "0.17", 456.25, "77.56")],
)
def test_a_lamp_by_the_clock_comes_to_the_published_sum(
    power: int, end: str, price: str, energy_kwh: float, cost: str
) -> None:
    # seen on public pages: 4 h and 5 h a day, all year
    found = played(job_of(DAILY.format(power=power, end=end, price=price)))
    (light,) = found.outputs
    assert light.kwh == pytest.approx(energy_kwh)
    assert light.simulated is not None
    assert light.simulated.half == pytest.approx(0)
    assert money(Fraction(price) * Fraction(light.kwh or 0)) == cost
    assert light.switched.value == pytest.approx(365)
    # computed: 40 switchings a day are 14,600 a year, and 100,000 operations last 6.8 years
    assert round(100_000 / (40 * light.switched.value), 1) == 6.8


def test_stand_by_of_a_lamp_that_is_never_on() -> None:
    # computed: 0.4 W all year = 3.5 kWh
    text = (
        "lamp light 10 W\nbutton push\nbutton other\nrule r\n  upon push pressed\n  do\n    light on\n"
        "end rule\nusage\n  other pressed once a day\n  light draws 0.4 W when off\nend usage\n"
    )
    found = played(job_of(text), weeks=1)
    (light,) = found.outputs
    assert light.kwh == pytest.approx(3.504)
    assert found.dead == ("r",)
    assert ("push", "") not in found.idle


PRESSED = """
lamp light 100 W
button push
rule r
  {policy}
  upon push pressed
  do
    light on
    wait 10 min
    light off
end rule
usage
  push pressed {times} times a day
end usage
"""


@pytest.mark.parametrize("times", [3, 60, 400])
def test_a_run_that_presses_prolong_is_on_unless_none_came(times: int) -> None:
    # Poisson process: no event in D with chance exp(-l D)
    job = job_of(PRESSED.format(policy="retriggerable", times=times))
    found = played(job, weeks=12)
    part = 1 - exp(-times * 600 / 86_400)
    (light,) = found.outputs
    assert light.expected is not None
    assert light.expected.on_s == pytest.approx(365 * 86_400 * part, rel=1e-6)
    assert light.on_s.half is not None
    assert abs(light.on_s.value - light.expected.on_s) < 3 * light.on_s.half


@pytest.mark.parametrize("times", [3, 60, 400])
def test_a_run_that_presses_do_not_prolong_is_a_line_of_one(times: int) -> None:
    # Erlang's loss formula for one server: p = l D / (1 + l D)
    job = job_of(PRESSED.format(policy="non-retriggerable", times=times))
    found = played(job, weeks=12)
    load = times * 600 / 86_400
    (light,) = found.outputs
    assert light.expected is not None
    assert light.expected.on_s == pytest.approx(365 * 86_400 * load / (1 + load), rel=1e-5)
    assert light.on_s.half is not None
    assert abs(light.on_s.value - light.expected.on_s) < 3 * light.on_s.half
    assert light.at_most is not None
    assert light.at_most.on_s == min(365 * times * 600, 365 * 86_400)


SEEN = """
detector pir holds 8 s rearm 3 s
dimmer strip 40 W
rule r
  retriggerable
  upon pir becomes occupied
  do
    strip 100 %
    wait until pir has stayed vacant for 5 min
    strip 50 %
    wait 2 min
    strip off
end rule
usage
  pir becomes occupied for 3 min 40 times a day
  pir becomes occupied for 2 s 40 times a day
end usage
"""


def test_until_nobody_was_seen_is_an_empty_house_of_many_servers() -> None:
    # M/G/infinity: nobody there, and nobody was for D, with chance exp(-sum of l (S + D));
    # what is seen for 2 s is held for 8 s
    found = played(job_of(SEEN), weeks=12)
    (strip,) = found.outputs
    rate = 40 / 86_400

    def without(seconds: float) -> float:
        return exp(-rate * (180 + seconds)) * exp(-rate * (8 + seconds))

    assert strip.expected is not None
    year = 365 * 86_400
    assert strip.expected.on_s == pytest.approx(year * (1 - without(420)), rel=1e-3)
    full = 1 - without(300) + 0.5 * (without(300) - without(420))
    assert strip.expected.full_s == pytest.approx(year * full, rel=1e-3)
    assert strip.simulated is not None
    assert strip.simulated.half is not None
    assert strip.by_formula is not None
    assert abs(strip.simulated.value - strip.by_formula) < 3 * strip.simulated.half
    assert strip.most is not None
    assert strip.by_formula < strip.most


def test_a_press_that_counts_by_night_alone_is_thinned_by_the_nights() -> None:
    text = PRESSED.format(policy="retriggerable\n  provided night", times=48)
    job = job_of(text.replace("end usage", "  night between 18:00 and 02:00\nend usage"))
    found = played(job, weeks=12)
    (light,) = found.outputs
    assert light.expected is not None
    rate, run, night = 48 / 86_400, 600.0, 8 * 3600.0
    # By night: 1 - exp(-l min(t, D)) t seconds after dusk; after dawn the last press fades out.
    rising = run - (1 - exp(-rate * run)) / rate
    lit = (1 - exp(-rate * run)) * (night - run) + 2 * rising
    assert light.expected.on_s == pytest.approx(365 * lit, rel=1e-3)
    assert light.on_s.half is not None
    assert abs(light.on_s.value - light.expected.on_s) < 3 * light.on_s.half
    assert light.left_on_nights == kwh(Fraction(100), Fraction(8 * 365))


def test_a_fade_draws_along_its_straight_line() -> None:
    text = (
        "dimmer strip 100 W\nbutton other\nrule r\n  retriggerable\n  upon at 20:00\n  do\n"
        "    fade strip to 100 % over 1 h\n    fade strip to 50 % over 1 h\n    wait 1 h\n"
        "    fade strip to off over 1 h\nend rule\nusage\n  other pressed once a day\nend usage\n"
    ).replace("to off over", "to 0 % over")
    found = played(job_of(text), weeks=2)
    (strip,) = found.outputs
    # triangles and a rectangle, by hand: 50 + 75 + 50 + 25 Wh a day
    assert strip.simulated is not None
    assert strip.simulated.value == pytest.approx(0.2 * 365)
    assert strip.on_s.value == pytest.approx(4 * 3600 * 365)


def test_the_boathouse_by_formula_by_simulation_and_at_most() -> None:
    found = played(folder("boathouse"), weeks=8)
    by_name = {each.point.name: each for each in found.outputs}
    assert {n for n, each in by_name.items() if each.expected} == {
        "bench_strip",
        "room_light",
        "fan",
    }
    for each in found.outputs:
        assert each.at_most is not None
        if each.expected is not None:
            assert each.on_s.half is not None
            assert abs(each.expected.on_s - each.on_s.value) < 3 * each.on_s.half
            assert each.expected.on_s <= each.at_most.on_s
        assert each.on_s.value - 3 * (each.on_s.half or 0) <= each.at_most.on_s
    assert by_name["beacon"].on_s.value == 0
    # proved: 5 min 20 s after somebody was last seen, 3,650 times, and 3 min each seen
    assert by_name["bench_strip"].at_most is not None
    assert by_name["bench_strip"].at_most.on_s == 3650 * (180 + 320)
    assert found.dead == ("lock_up", "come_back", "beacon_reset")
    assert found.idle == (("key_switch", "off"),)


def test_the_same_seed_gives_the_same_year_and_another_another() -> None:
    job = folder("boathouse")
    first, again, other = (played(job, 2, seed).outputs for seed in (7, 7, 8))
    assert first == again
    assert first != other


def test_usage_changes_no_slice_and_no_certificate() -> None:
    from verifier.graph.slice import slice_job

    job = folder("boathouse")
    assert job.usage is not None
    for requirement in job.requirements:
        assert slice_job(job, requirement).usage is None


SITE = """
site "Quay"
  latitude 51.5 deg
  longitude -0.1167 deg
  timezone "Europe/London"
end site
lamp light 10 W
button push
rule r
  retriggerable
  upon push pressed
  provided night
  do
    light on
    wait 1 min
    light off
end rule
usage
  push pressed 3 times a day
end usage
"""


def test_nights_of_a_site_are_those_of_its_sun_by_the_clock_on_the_wall() -> None:
    # computed with the NOAA formula, allow 1 min: 2024-06-20 04:42:59 to 21:21:23 (summer time),
    # 2024-12-21 08:03:55 to 15:53:39
    job = job_of(SITE)
    year = year_of(job, 2024)
    assert year.days == 366
    assert year.nights is not None
    for day, rises, sets in ((171, "04:42:59", "21:21:23"), (355, "08:03:55", "15:53:39")):
        for to_night, clock in ((False, rises), (True, sets)):
            hour, minute, second = map(int, clock.split(":"))
            wanted = day * 86_400 + hour * 3600 + minute * 60 + second
            near = min(abs(at - wanted) for at, dark in year.nights.turns if dark is to_night)
            assert near <= 60
    assert year.nights.is_night(0)
    assert not year.nights.is_night(12 * 3600)
    assert year.nights.seconds(0, 366 * 86_400) / 366 / 3600 == pytest.approx(11.8, abs=0.1)
    found = played(job, weeks=26, year=2024)
    (light,) = found.outputs
    assert light.expected is not None
    assert light.on_s.half is not None
    assert abs(light.on_s.value - light.expected.on_s) < 3 * light.on_s.half


def test_without_nights_a_rule_that_reads_them_has_no_energy() -> None:
    text = PRESSED.format(policy="retriggerable\n  provided night", times=3)
    with pytest.raises(NoNights):
        year_of(job_of(text), 2026)


def test_a_door_is_at_rest_where_no_line_leaves_it_and_moves_its_switches() -> None:
    text = (
        "limit up\nlimit down\nswitch motor\nlamp light 60 W\ndoor gate\n  raised by up\n  lowered by down\n"
        "  moving by motor\n  travel 10 s to 20 s\nend door\nrule r\n  retriggerable\n"
        "  upon motor becomes on\n  do\n    light on\n    wait until motor is off\n    light off\nend rule\n"
        "usage\n  gate becomes lowered for 10 min 24 times a day\nend usage\n"
    )
    job = job_of(text)
    assert resting(job)["gate"] == "raised"
    assert plain_job(job).door["gate"].starts == "raised"
    found = played(job, weeks=12)
    (light,) = found.outputs
    # 30 s each time (two runs of 15 s), less what is joined: at most, and no less than nine tenths
    assert light.at_most is not None
    assert light.at_most.on_s == 365 * 24 * 30
    assert 0.75 < light.on_s.value / float(light.at_most.on_s) < 1


def test_the_weeks_lie_in_the_parts_of_the_year() -> None:
    from random import Random

    year = year_of(job_of(PRESSED.format(policy="retriggerable", times=3)), 2026)
    starts = week_starts(year, 52, Random(1))
    assert all(k * 365 // 52 <= first < (k + 1) * 365 // 52 for k, first in enumerate(starts))


def test_where_much_happens_fewer_weeks_are_played(monkeypatch: pytest.MonkeyPatch) -> None:
    from verifier.handover import simulated

    job = job_of(PRESSED.format(policy="retriggerable", times=48))
    year = year_of(job, 2026)
    assert simulated.weeks_to_play(job, year, 1) == 52
    # 48 presses a day and most of them with an end of their own: 500 to 800 in eight days
    monkeypatch.setattr(simulated, "MOST_IN_ALL", 6500)
    assert 8 <= simulated.weeks_to_play(job, year, 1) <= 13
    monkeypatch.setattr(simulated, "MOST_IN_ALL", 10)
    assert simulated.weeks_to_play(job, year, 1) == 1


def test_a_lamp_that_starts_on_and_that_no_rule_sets_burns_all_year() -> None:
    text = "lamp light 10 W starts on\nbutton push\nusage\n  push pressed once a day\nend usage\n"
    (light,) = played(job_of(text), weeks=2).outputs
    assert (light.expected, light.at_most) == (None, None)
    assert light.kwh == pytest.approx(87.6)


def test_an_interval_is_that_of_student() -> None:
    # two-sided 95 % with two degrees of freedom: t = 4.303 (tables)
    assert mean([1.0, 2.0, 3.0]).half == pytest.approx(4.303 / 3**0.5)
    assert mean([1.0]).half is None


@pytest.mark.parametrize(
    "body",
    [
        "light on\n    wait until push_2 is on\n    light off",
        "wait 5 s\n    light on\n    wait 10 min\n    light off",
        "light on\n    wait 10 min",
        "if night then\n      light on\n    end if\n    wait 10 min\n    light off",
    ],
)
def test_rules_of_other_shapes_have_no_formula(body: str) -> None:
    text = PRESSED.format(policy="retriggerable", times=3).replace(
        "light on\n    wait 10 min\n    light off", body
    )
    job = job_of(
        text.replace("end usage", "  night between 18:00 and 06:00\nend usage\nswitch push_2")
    )
    year = year_of(job, 2026)
    assert expected(job, year, Live(job), job.point["light"]) is None
