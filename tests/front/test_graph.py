"""`duskproof graph`: pictures without overlap, tables that say the same, any text in any form."""

from __future__ import annotations

import html
import re
import shutil
import subprocess
import unicodedata
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.check import ROOT
from tests.graph.jobs import jobs
from verifier.front import command
from verifier.front.drives_svg import drives_svg
from verifier.front.graph_page import drives_body, rules_body
from verifier.front.graph_svg import rule_svg, rules_svg
from verifier.front.shown import shown
from verifier.front.text_size import width_of, wrapped
from verifier.graph.build import build_graph
from verifier.graph.dead import Dead, dead_parts
from verifier.graph.findings import findings
from verifier.graph.render import render_dot, render_mermaid
from verifier.graph.render_drives import drives_dot, drives_mermaid
from verifier.graph.rows import drives_of, rows_of
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

SPECS = ("boathouse", "boathouse-first-draft", "dock", "path", "stair", "washroom")
SVG = "{http://www.w3.org/2000/svg}"

ODD = 'Bay "A" <b>&amp; #1; \\N ]]> |x| end -- `y` 日本 e\u0301 \u202e \x1b[31m {z} --> %%'
"""What a label may hold: signs of HTML, DOT and Mermaid, wide ones, one that turns the direction."""


def job_of(text: str, name: str = "job") -> Job:
    found, mistakes = check(Sources((SourceFile("job.dusk", text),)), name)
    assert found is not None, mistakes
    return found


def spec(name: str) -> Job:
    files = sorted((ROOT / "specs" / name).glob("*.dusk"))
    sources = Sources(tuple(SourceFile(p.name, p.read_text(encoding="utf-8")) for p in files))
    found, mistakes = check(sources, name)
    assert found is not None, mistakes
    return found


def odd_job() -> Job:
    """A job whose labels and name are odd."""
    plain = spec("boathouse")
    return replace(
        plain,
        name=ODD,
        points=tuple(replace(point, label=ODD) for point in plain.points),
        rules=tuple(replace(rule, label=ODD) for rule in plain.rules),
        doors=tuple(replace(door, label=ODD) for door in plain.doors),
    )


def house_of(rules: int) -> str:
    """A house with so many rules, each with a detector, some with a flag and names that are long."""
    lines = ["flag armed_for_the_night_by_the_keeper", "switch key"]
    for n in range(rules):
        lamp = f"lamp_of_the_room_at_the_end_of_corridor_{n // 3}"
        if n % 3 == 0:
            lines.append(f'lamp {lamp} "Lamp {n}"')
        lines.append(f"detector pir_{n}")
        lines.extend(
            [
                f"rule seen_{n}",
                "  retriggerable",
                f"  upon pir_{n} becomes occupied",
                f"  upon key becomes on provided pir_{n} is occupied",
                "  do",
                f"    {lamp} on",
                "    armed_for_the_night_by_the_keeper yes",
                f"    wait until pir_{n} has stayed vacant for 5 min, at most 1 h 10 min",
                "    if timed out and armed_for_the_night_by_the_keeper is yes then",
                f"      {lamp} off",
                *([f"      cancel seen_{n - 1}"] if n else []),
                "    end if",
                "end rule",
            ]
        )
    return "\n".join(lines) + "\n"


# ---------------------------------------------------------------- where texts stand

Frame = tuple[float, float, float, float]


def text_boxes(picture: str) -> tuple[list[tuple[str, Frame]], Frame]:
    """The frames of all texts of a picture, measured wide, and its own frame."""
    root = ElementTree.fromstring(picture)
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    found: list[tuple[str, Frame]] = []

    def walk(node: ElementTree.Element, dx: float, dy: float) -> None:
        moved = re.match(r"translate\((\S+) (\S+)\)", node.attrib.get("transform", ""))
        if moved:
            dx, dy = dx + float(moved[1]), dy + float(moved[2])
        if node.tag == f"{SVG}text":
            size = float(node.attrib["font-size"])
            words = node.text or ""
            wide = width_of(words, size, node.attrib.get("font-weight") == "bold")
            x, y = float(node.attrib["x"]) + dx, float(node.attrib["y"]) + dy
            x -= wide / 2 if node.attrib.get("text-anchor") == "middle" else 0
            found.append((words, (x, y - size * 0.95, x + wide, y + size * 0.25)))
        for child in node:
            walk(child, dx, dy)

    walk(root, 0.0, 0.0)
    return found, (left, top, left + width, top + height)


def check_words(picture: str) -> None:
    """No two texts overlap, and each lies inside."""
    boxes, (left, top, right, bottom) = text_boxes(picture)
    assert boxes
    for words, (x, y, ox, oy) in boxes:
        assert x >= left - 0.5, words
        assert y >= top - 0.5, words
        assert ox <= right + 0.5, words
        assert oy <= bottom + 0.5, words
    for (one, a), (other, b) in combinations(boxes, 2):
        apart = a[2] <= b[0] + 0.2 or b[2] <= a[0] + 0.2 or a[3] <= b[1] + 0.2 or b[3] <= a[1] + 0.2
        assert apart, (one, other)


def check_picture(picture: str) -> None:
    """Words as they should be; it has a title and a description, and no script or link."""
    check_words(picture)
    root = ElementTree.fromstring(picture)
    assert float(root.attrib["width"]) <= 720
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == root.findtext(f"{SVG}title")
    assert root.findtext(f"{SVG}desc")
    assert {node.tag.removeprefix(SVG) for node in root.iter()} <= {
        *("svg", "title", "desc", "g", "rect", "path", "circle", "text"),
    }


def dead_of(job: Job) -> Dead:
    return dead_parts(job, findings(job))


@pytest.mark.parametrize("name", SPECS)
def test_no_words_overlap_in_the_pictures_of_the_specs(name: str) -> None:
    job = spec(name)
    graph, dead = build_graph(job), dead_of(job)
    for rule in job.rules:
        check_picture(rule_svg(graph, rule, dead))
    check_picture(rules_svg(graph, job.rules, dead))
    check_picture(drives_svg(drives_of(job, dead)))


@given(jobs())
@settings(max_examples=60)
def test_no_words_overlap_in_the_pictures_of_any_job(job: Job) -> None:
    dead = dead_of(job)
    graph = build_graph(job)
    for rule in job.rules:
        check_picture(rule_svg(graph, rule, dead))
    check_picture(drives_svg(drives_of(job, dead)))


@pytest.mark.parametrize("count", [1, 2, 5, 40])
def test_no_words_overlap_with_one_rule_and_with_forty(count: int) -> None:
    job = job_of(house_of(count))
    dead = dead_of(job)
    picture = drives_svg(drives_of(job, dead))
    check_picture(picture)
    names = {words for words, _ in text_boxes(picture)[0]}
    assert sum(name.startswith("seen_") for name in names) == count
    assert not any("…" in name for name in names)  # a name that is cut could be another one
    check_picture(rules_svg(build_graph(job), job.rules, dead))


def test_lines_do_not_run_into_one_at_the_side_of_a_box() -> None:
    job = job_of(house_of(12))
    picture = drives_svg(drives_of(job, Dead()))
    ends: dict[str, list[float]] = {}
    for x, y in re.findall(r'd="M(\S+) (\S+)C', picture):
        ends.setdefault(x, []).append(float(y))
    assert len(ends) == 2
    for found in ends.values():
        found.sort()
        assert min(b - a for a, b in pairwise(found)) >= 6


def test_a_rule_with_more_ways_than_are_told_apart_is_drawn() -> None:
    tests = "".join(f"    if s{n} is on then\n      a on\n    end if\n" for n in range(7))
    switches = "".join(f"switch s{n}\n" for n in range(7))
    job = job_of(f"{switches}lamp a\nrule r\n  upon s0 changes\n  do\n{tests}end rule\n")
    rows = rows_of(build_graph(job), "r", Dead())
    assert [row.told for row in rows] == [("summarised",)]
    check_picture(rules_svg(build_graph(job), job.rules, Dead()))


def test_a_rule_with_sixty_four_ways_is_drawn_narrow() -> None:
    tests = "".join(f"    if s{n} is on then\n      a{n} on\n    end if\n" for n in range(6))
    points = "".join(f"switch s{n}\nlamp a{n}\n" for n in range(6))
    job = job_of(f"{points}button b\nrule r\n  upon b pressed\n  do\n{tests}end rule\n")
    assert len(rows_of(build_graph(job), "r", Dead())) == 64
    check_picture(rules_svg(build_graph(job), job.rules, Dead()))


def test_a_job_without_rules_is_drawn_too() -> None:
    job = job_of("lamp light\nswitch key\n")
    picture = drives_svg(drives_of(job, Dead()))
    check_picture(picture)
    assert "Joined to no rule: light, key" in [words for words, _ in text_boxes(picture)[0]]
    ElementTree.fromstring(rules_svg(build_graph(job), (), Dead()))


# ---------------------------------------------------------------- what the picture says

DEAD = """\
detector pir
flag armed
lamp light
rule seen
  retriggerable
  upon pir becomes occupied
  upon armed becomes yes
  do
    light on
    wait 1 min
    if armed is yes then
      wait 2 min
    end if
    light off
end rule
rule asleep
  upon armed becomes yes
  do
    light off
end rule
"""


def test_what_never_happens_is_dashed_crossed_and_said_in_words() -> None:
    job = job_of(DEAD)
    dead = dead_of(job)
    graph = build_graph(job)
    picture = rule_svg(graph, job.rules[0], dead)
    words = " ".join(text for text, _ in text_boxes(picture)[0])
    assert "(never, as its event never happens)" in words
    assert "(never, as its branch is never reached)" in words
    assert "(never reached)" in words
    never = [row for row in rows_of(graph, "seen", dead) if row.never]
    assert len(never) == 3
    # A cross of two strokes for each way, a dashed frame for the place, dashed lines to and from.
    assert picture.count('stroke-width="2.2"') == 3
    assert len(re.findall(r"<rect [^>]*stroke-dasharray", picture)) == 1
    assert len(re.findall(r"<path [^>]*stroke-dasharray", picture)) >= 6
    # Without colour: taken away, what never happens still differs from what does.
    grey = re.sub(r'"#[0-9a-f]{6}"', '"#000000"', picture)
    alive = re.sub(r'"#[0-9a-f]{6}"', '"#000000"', rule_svg(graph, job.rules[0], Dead()))
    assert grey.count("stroke-dasharray") > alive.count("stroke-dasharray") == 0


def test_a_rule_that_never_fires_is_marked_in_who_drives_what() -> None:
    job = job_of(DEAD)
    picture = drives_svg(drives_of(job, dead_of(job)))
    words = [text for text, _ in text_boxes(picture)[0]]
    assert "never fires" in words
    assert "never: the rule never fires" in words
    assert picture.count('stroke-width="2.2"') == 3  # into it, out of it, in the legend


def cells(body: str) -> list[list[str]]:
    """The rows of the tables of a page, as text; the words for phones left out."""
    plain = re.sub(r'<span class="key">.*?</span>', "", body)
    rows = re.findall(r"<tr>(.*?)</tr>", plain.replace("\n", " "))
    found = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in rows]
    return [[html.unescape(cell) for cell in row] for row in found]


@pytest.mark.parametrize("name", SPECS)
def test_the_table_beside_a_picture_says_the_same(name: str) -> None:
    job = spec(name)
    graph, dead = build_graph(job), dead_of(job)
    for rule in job.rules:
        body = rules_body(graph, job.name, (rule,), dead)
        _, *table = cells(body)
        drawn = " ".join(w for w, _ in text_boxes(rule_svg(graph, rule, dead))[0])
        drawn = drawn.replace("\u00a0", " ").replace("_ ", "_")
        for number, source, when, guard, does, target, note in table:
            begin = f"{number} · {when}"
            assert begin in drawn
            rest = drawn.split(begin, 1)[1]
            if guard == "–":
                assert not rest.startswith(" if ")
            else:
                assert rest.startswith(f" if {guard}") or "…" in rest
            for words in does.split(", then ") if does != "nothing" else []:
                assert f"then {words}" in rest or "…" in rest
            for words in note.split(", ") if note and not note.startswith("never") else []:
                assert f"({words})" in rest
            for place in (source, target):
                assert place.replace("  ", " ") in drawn or "…" in drawn
        assert len(table) == len(rows_of(graph, rule.name, dead))
    drives = drives_of(job, dead)
    _, *table = cells(drives_body(drives))
    assert [(a.split(" (")[0], how, b.split(" (")[0]) for a, how, b, _ in table] == [
        (row.source.name, row.how, row.target.name) for row in drives.rows
    ]


# ---------------------------------------------------------------- any text in any form


def test_odd_labels_are_only_letters_in_pictures_and_pages() -> None:
    job = odd_job()
    dead = dead_of(job)
    graph = build_graph(job)
    for picture in (rules_svg(graph, job.rules, dead), drives_svg(drives_of(job, dead))):
        check_picture(picture)
        assert not re.search("[\x00-\x08\x0b-\x1f\u202e]", picture)
    for body in (rules_body(graph, job.name, job.rules, dead), drives_body(drives_of(job, dead))):
        plain = re.sub(r"<svg.*?</svg>", "", body, flags=re.DOTALL)
        assert "<b>" not in plain
        assert html.escape(shown(ODD)) in plain
        assert not re.search("[\x00-\x08\x0b-\x1f\u202e]", plain)


DOT = shutil.which("dot")


@pytest.mark.skipif(DOT is None, reason="apt-get install graphviz")
@pytest.mark.parametrize("odd", [False, True])
@pytest.mark.parametrize("what", ["rules", "drives"])
def test_graphviz_reads_dot_and_its_labels_are_the_job_s(what: str, odd: bool) -> None:
    """Graphviz (EPL 2.0), the general reader of DOT: each label comes out letter by letter."""
    job = odd_job() if odd else spec("boathouse-first-draft")
    dead = dead_of(job)
    graph = build_graph(job)
    text = render_dot(graph, dead) if what == "rules" else drives_dot(drives_of(job, dead))
    assert DOT is not None
    ran = subprocess.run([DOT, "-Tsvg"], input=text.encode(), capture_output=True, check=True)
    assert ran.stderr == b""
    drawn = ElementTree.fromstring(ran.stdout.decode())
    kinds = [node.attrib.get("class") for node in drawn.iter(f"{SVG}g")]
    drives = drives_of(job, dead)
    edges = graph.edges if what == "rules" else drives.rows
    nodes = graph.nodes if what == "rules" else drives.things
    assert kinds.count("edge") == len(edges)
    assert kinds.count("node") == len(nodes)
    if what == "drives":
        words = {node.text for node in drawn.iter(f"{SVG}text")}
        clean = "".join("\u25a1" if sign < " " else sign for sign in ODD)
        label = clean if odd else job.points[0].label
        assert {(w or "").replace("\u00a0", " ") for w in words} >= {label}


MERMAID_LINE = re.compile(
    r"""\ \ (?:  subgraph\ r\d+\["[^"]*"\] | end
      | (?:\ \ )?\w+(?:\(\[|\[\[|\[/|\[|\{\{|\()"[^"]*"(?:\]\)|\]\]|\\\]|\]|\}\}|\))
      | (?:\ \ )?\w+\ (?:-->|-\.->|==>|--x)\|"[^"]*"\|\ \w+
      | classDef\ never\ stroke-dasharray:\ 4\ 3 | class\ [\w,]+\ never )""",
    re.VERBOSE,
)


@pytest.mark.parametrize("odd", [False, True])
def test_mermaid_is_made_of_lines_of_its_grammar_and_every_string_of_harmless_signs(
    odd: bool,
) -> None:
    """Each line is of a form of Mermaid's flow charts, and a string holds none of its signs.

    Mermaid's own parser: `tests/outside/test_mermaid.py`, which needs Chromium.
    """
    job = odd_job() if odd else spec("boathouse-first-draft")
    dead = dead_of(job)
    for text in (
        render_mermaid(build_graph(job), dead),
        drives_mermaid(drives_of(job, dead)),
    ):
        first, *lines = text.splitlines()
        assert first == "flowchart LR"
        for line in lines:
            assert MERMAID_LINE.fullmatch(line), line
            for string in re.findall(r'"([^"]*)"', line):
                bare = re.sub(r"#\w+;|<br/>", "", string)
                assert not set(bare) & set('"<>&#`\\*'), string
                assert not any(unicodedata.category(sign) == "Cc" for sign in bare)


# ---------------------------------------------------------------- how wide a text is


def test_no_letter_of_a_wide_font_is_wider_than_is_reckoned() -> None:
    """DejaVu Sans, upright and bold, as Pillow measures it: letter by letter."""
    image_font = pytest.importorskip("PIL.ImageFont", reason="pip install 'duskproof[pdf]'")
    folder = Path("/usr/share/fonts/truetype/dejavu")
    if not (folder / "DejaVuSans-Bold.ttf").is_file():
        pytest.skip("apt-get install fonts-dejavu-core")
    for bold, file in ((False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")):
        font = image_font.truetype(str(folder / file), 1000)
        for sign in (*map(chr, range(32, 127)), *"→×…·é€ßøœÆЖЩώ"):
            assert font.getlength(sign) <= width_of(sign, 1000, bold) + 1, sign


@given(st.text(max_size=60), st.sampled_from([20.0, 60.0, 170.0]), st.integers(0, 3))
def test_a_wrapped_text_fits_and_loses_nothing(text: str, most: float, lines: int) -> None:
    found = wrapped(text, 12.0, most, lines=lines)
    for line in found:
        assert width_of(line, 12.0) <= most or len(line) <= 2
    if lines:
        assert len(found) <= lines
    else:
        assert "".join(found).replace(" ", "") == text.replace(" ", "")


# ---------------------------------------------------------------- the command

BOATHOUSE = str(ROOT / "specs" / "boathouse")


@pytest.mark.parametrize("what", ["rules", "drives"])
@pytest.mark.parametrize("form", ["text", "dot", "mermaid", "svg", "html"])
def test_each_form_goes_to_the_terminal_or_into_a_file(
    what: str, form: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert command.run(["graph", BOATHOUSE, "--what", what, "--format", form]) == 0
    shown_ = capsys.readouterr().out
    file = tmp_path / "drawn"
    arguments = ["graph", BOATHOUSE, "--what", what, "--format", form, "-o", str(file)]
    assert command.run(arguments) == 0
    assert file.read_text(encoding="utf-8").rstrip("\n") == shown_.rstrip("\n")
    assert str(file) in capsys.readouterr().out
    begins = {"dot": "digraph", "mermaid": "flowchart LR", "svg": "<svg", "html": "<!DOCTYPE html>"}
    assert shown_.startswith(begins.get(form, "rule shutter_light" if what == "rules" else "door"))


def test_one_rule_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(["graph", BOATHOUSE, "--rule", "fan_run"]) == 0
    assert capsys.readouterr().out == (
        "rule fan_run (non-retriggerable)\n"
        "  idle\n"
        "     wall_push pressed [locked_up is no] / fan on → #1\n"
        "  #1  wait 20 min\n"
        "     after 20 min / fan off → idle\n"
    )
    assert command.run(["graph", BOATHOUSE, "--what", "drives", "--rule", "fan_run"]) == 0
    assert capsys.readouterr().out == (
        "rule fan_run\n"
        "  triggered by  wall_push\n"
        "  guarded by  locked_up\n"
        "  sets  fan\n"
        "\n"
        "rule lock_up\n"
        "  cancels  fan_run\n"
    )


def test_an_unknown_rule_is_a_diagnostic(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(["graph", BOATHOUSE, "--rule", "fan_rum"]) == 2
    out = capsys.readouterr().out
    assert 'there is no rule called "fan_rum"' in out
    assert "Did you mean fan_run" in out


def test_a_file_that_cannot_be_written_is_a_diagnostic(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    missing = tmp_path / "none" / "g.svg"
    assert command.run(["graph", BOATHOUSE, "--format", "svg", "-o", str(missing)]) == 2
    assert "[file-not-written]" in capsys.readouterr().out


def test_a_proof_finds_ways_that_the_structure_leaves(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The button's lamp is off ten seconds after each press: the second wait finds it off."""
    (tmp_path / "job.dusk").write_text(
        "button push\nlamp light\nrule lit\n  non-retriggerable\n  upon push pressed\n  do\n"
        "    light on\n    wait 10 s\n    light off\n    wait 10 s\n    if light is on then\n"
        "      light off\n    end if\nend rule\n",
        encoding="utf-8",
    )
    assert command.run(["graph", str(tmp_path)]) == 0
    assert "never" not in capsys.readouterr().out
    assert command.run(["graph", str(tmp_path), "--prove"]) == 0
    out = capsys.readouterr().out
    assert (
        "after 10 s [light is on] / light off → idle (never, as its branch is never reached)" in out
    )
    assert out.count("never, as") == 1
