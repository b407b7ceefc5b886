"""The measuring of how the cost grows: what is said of figures is so."""

from __future__ import annotations

from math import isclose
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.benchmarks.buildings import by_hand
from tests.benchmarks.scale import (
    Bench,
    Growth,
    Row,
    Run,
    exponent,
    in_editor,
    one_line_changed,
    without_the_start,
)
from tests.benchmarks.scale_report import plot, reached, text_of

RUN = Run(1.0, 100.0, 4, 4)


def growth(name: str, *seconds: float) -> Growth:
    return Growth(
        name,
        tuple(
            Row(name, 10 ** (k + 1), (Run(value, 100.0, 4, 4),)) for k, value in enumerate(seconds)
        ),
    )


@pytest.mark.parametrize("power", [0.5, 1.0, 2.0])
def test_the_exponent_of_a_power_is_found(power: float) -> None:
    points = tuple((n, 0.003 * float(n**power)) for n in (10, 100, 1_000, 10_000))
    assert isclose(exponent(points), power)


def test_start_up_is_taken_off_before_what_grows_is_fitted() -> None:
    points = tuple((n, 0.5 + 0.002 * n) for n in (10, 100, 1_000, 10_000))
    assert exponent(points) < 0.6
    assert isclose(exponent(without_the_start(points)), 1.0, abs_tol=0.03)


@pytest.mark.parametrize(
    ("run", "said"),
    [
        (RUN, "yes"),
        (Run(3.1, 100.0, 4, 4), "**no**"),
        (Run(1.0, 301.0, 4, 4), "**no**"),
        (Run(1.0, 100.0, 4, 3), "**no**, not all is proved"),
        (Run(1.0, 100.0, 0, 0), "**no**, not all is proved"),
    ],
)
def test_a_target_is_reached_in_time_in_memory_and_with_everything_proved(
    run: Run, said: str
) -> None:
    assert reached(Row("job", 10, (run,), 3.0, 300.0)) == said


def test_the_page_tells_every_row_and_how_it_grows() -> None:
    rows = [Row("house, cold", 60, (RUN, Run(5.0, 90.0, 4, 4), RUN), 4.0)]
    text = text_of(rows, [growth("typicals", 0.5, 0.7, 2.5), growth("by hand", 1.0, 10.0, 100.0)])
    assert "| house, cold | 60 | 4.00 s | 1.00 s | 100 MB | 3 | yes |" in text
    assert "| by hand | 1,000 | 100.0 s | 1e+02 ms | 100 MB | 1 |" in text
    assert "- **by hand**: the time grows with the number of rules to the power 1.00" in text


def test_a_thousand_buildings_are_told_from_the_processor_time_of_one() -> None:
    large = Row("of typicals, cold", 10_000, (Run(8.0, 300.0, 4, 4, 14.4),), 30.0)
    small = Row("house, cold", 60, (Run(1.0, 100.0, 4, 4, 1.0),), 4.0)
    text = text_of([small, large], [growth("by hand", 1.0, 10.0, 100.0)])
    _, paper = text.split("## 1,000 buildings, on paper")
    # 14.4 s a thousand times are 14,400 s, or four hours of one processor.
    assert "| of typicals, cold | 10,000 | 14.4 s | 4.0 h | 2.0 h | 4 min |" in paper
    assert "house" not in paper


def test_the_picture_has_a_mark_for_each_figure_within_its_edges() -> None:
    tree = ElementTree.fromstring(plot([growth("a", 0.5, 0.7, 2.5), growth("b", 1, 10, 100)]))
    _, _, wide, high = (float(number) for number in tree.attrib["viewBox"].split())
    circles = [node for node in tree.iter() if node.tag.endswith("circle")]
    assert len(circles) == 3
    assert len([n for n in tree.iter() if n.tag.endswith("rect")]) == 1 + 3
    lines = [node for node in tree.iter() if node.tag.endswith("polyline")]
    for line in lines:
        for place in line.attrib["points"].split():
            x, y = (float(number) for number in place.split(","))
            assert 0 <= x <= wide
            assert 0 <= y <= high
    heights = [float(circle.attrib["cy"]) for circle in circles]
    assert heights == sorted(heights, reverse=True)


def test_a_job_is_run_cold_and_with_what_was_kept(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    texts = {"job.dusk": by_hand(1)}
    for runs in (bench.cold(texts, 1), bench.warm(one_line_changed(texts), 1)):
        assert [(run.requirements, run.proved) for run in runs] == [(4, 4)]
        assert runs[0].seconds > 0
    assert one_line_changed(texts) != texts


def test_an_edit_in_an_editors_process_is_judged_as_a_whole() -> None:
    run = in_editor()
    assert (run.requirements, run.proved) == (45, 45)
