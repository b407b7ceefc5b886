"""The report and the commands explain, mend, report and testsheet, as a user meets them."""

from __future__ import annotations

import html.parser
import io
import json
import os
import re
import shutil
import xml.etree.ElementTree as ElementTree
from fractions import Fraction
from pathlib import Path

import pytest

from tests.explain.jobs import SPECS, draft, told
from verifier.explain.diagram import Bar, Diagram, Instant, Lane, Mark
from verifier.front.command import run
from verifier.front.page import CAUTIONS, NoPdf, page, pdf_of
from verifier.front.paint import PLAIN, Paint
from verifier.front.timing_svg import timing_svg
from verifier.front.timing_text import timing_text

DRAFT = str(SPECS / "boathouse-first-draft")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def draft_copy(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DRAFT, tmp_path / "job"))


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("report") / "report.html"
    assert run(["report", DRAFT, "-o", str(path)]) == 1
    return path.read_text("utf-8")


class Seen(html.parser.HTMLParser):
    """What a browser would make of a page: tags, ids, links, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text.append(data)


def seen(text: str) -> Seen:
    parser = Seen()
    parser.feed(text)
    assert not parser.open
    return parser


def test_the_report_needs_nothing_from_elsewhere(report: str) -> None:
    for tag, attributes in seen(report).tags:
        assert tag not in ("script", "link", "iframe", "img", "object")
        for name in ("src", "href"):
            assert (attributes.get(name) or "#").startswith("#"), attributes
    assert "url(" not in report
    assert "@import" not in report


def test_every_link_of_the_report_leads_somewhere(report: str) -> None:
    parser = seen(report)
    ids = [a["id"] for _, a in parser.tags if "id" in a]
    links = [a["href"] for tag, a in parser.tags if tag == "a"]
    assert len(ids) == len(set(ids))
    assert links
    assert {link[1:] for link in links if link} <= set(ids)


def test_the_report_says_what_the_verdicts_say(report: str) -> None:
    words = " ".join(" ".join(seen(report).text).split())
    assert "8 of 21 promises hold, 13 fail." in words
    for requirement, _, _ in draft("boathouse").verdicts:
        assert requirement.label in words
        assert requirement.name in words


def test_client_pages_come_before_the_appendix(report: str) -> None:
    words = " ".join(seen(report).text)
    order = [
        "What was promised",
        "What fails, and how",
        "What was assumed",
        "Which faults were considered",
        "What was not checked",
        "Cautions",
        "Engineer’s appendix",
        "Verdicts and their grounds",
        "Which lines each verdict rests on",
        "How to make this again",
        "The job as it was judged",
    ]
    places = [words.index(title) for title in order]
    assert places == sorted(places)


def test_the_report_shows_the_usual_cautions(report: str) -> None:
    words = " ".join(" ".join(seen(report).text).split())
    assert all(caution in words for caution in CAUTIONS)


def test_each_failing_case_of_the_report_has_its_picture_and_its_table(report: str) -> None:
    pictures = [a for tag, a in seen(report).tags if tag == "svg"]
    assert report.split("Engineer’s appendix")[0].count("<svg") == 13
    assert all(a.get("role") == "img" and a.get("aria-label") for a in pictures)
    assert report.count("<caption>What happens</caption>") == 13


def test_names_in_the_client_s_pages_are_the_labels(report: str) -> None:
    client = report.split("Engineer’s appendix")[0]
    assert "“Bay lights” goes off" in client
    assert not re.search(r">[^<]*\bbay_lights\b", re.sub(r"<svg.*?</svg>", "", client, flags=re.S))


def test_text_from_the_job_cannot_become_markup(tmp_path: Path) -> None:
    job = tmp_path / "job"
    job.mkdir()
    (job / "job.dusk").write_text(
        'lamp yard "<b onclick=x>&amp;"\nbutton push\nrequire a "<script>alert(1)</script>"\n'
        "  never: yard is off\nend require\n",
        "utf-8",
    )
    out = tmp_path / "report.html"
    assert run(["report", str(job), "-o", str(out)]) == 1
    text = out.read_text("utf-8")
    assert "<script" not in text
    assert "<b onclick" not in text
    seen(text)


def test_a_pdf_says_what_the_page_says(report: str) -> None:
    """The text is taken out of the PDF by pypdf and compared, word by word, with that of the page."""
    pypdf = pytest.importorskip("pypdf", reason="pip install 'duskproof[checkers]'")
    try:
        data = pdf_of(report)
    except NoPdf as missing:
        pytest.skip(f"{missing}: pip install 'duskproof[pdf]', apt-get install libpangoft2-1.0-0")
    pages = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages]
    in_pdf = set(re.findall(r"[a-z]{4,}", " ".join(pages).lower()))
    parser = seen(re.sub(r"<svg.*?</svg>", "", report, flags=re.S))
    in_page = re.findall(r"[a-z]{4,}", " ".join(parser.text[1:]).lower())
    missing_words = [word for word in dict.fromkeys(in_page) if word not in in_pdf]
    # A word may be broken at the end of a line.
    assert len(missing_words) <= 0.05 * len(set(in_page)), missing_words


def test_a_paper_of_another_kind_is_wrong_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", DRAFT, "-o", "report.odt"]) == 2
    assert ".html or .pdf" in capsys.readouterr().err


def test_a_paper_that_cannot_be_written_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in (tmp_path / "no" / "report.html", tmp_path):
        at = path if path.suffix else Path(shutil.copytree(DRAFT, tmp_path / "there.html"))
        assert run(["report", DRAFT, "-o", str(at)]) == 2
        said = capsys.readouterr()
        assert "[file-not-written]" in said.out
        assert "judging" not in said.err


# ---------------------------------------------------------------- explain


def test_explain_tells_what_fails_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", DRAFT, "--only", "walk_in_lit", "--only", "fan_short"]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "only 30 s later bay_lights goes off" in out
    assert "fan_short" not in out
    assert "duskproof mend" in out


def test_explain_of_a_job_that_holds_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", str(SPECS / "boathouse")]) == 0
    assert "nothing to explain" in capsys.readouterr().out


def test_explain_as_json_has_what_the_text_has(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", DRAFT, "--only", "porch_lit", "--other", "--format", "json"]) == 1
    (failing,) = json.loads(capsys.readouterr().out)["failing"]
    story = told("boathouse", "porch_lit").story
    assert story is not None
    assert failing["story"]["title"] == story.title
    assert [m["number"] for m in failing["story"]["moments"]] == [1, 2, 3, 4]
    assert failing["other"]["title"] != story.title
    assert failing["contrast"]["words"].endswith("gone well.")


def test_pictures_are_written_for_each_case(tmp_path: Path) -> None:
    folder = tmp_path / "pictures"
    assert run(["explain", DRAFT, "--only", "walk_in_lit", "--pictures", str(folder)]) == 1
    assert {p.name for p in folder.iterdir()} == {"walk_in_lit.svg", "walk_in_lit-well.svg"}
    for picture in folder.iterdir():
        ElementTree.parse(picture)


# ---------------------------------------------------------------- mend


def test_mend_shows_proposals_and_changes_nothing(
    draft_copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {p.name: p.read_bytes() for p in draft_copy.iterdir()}
    assert run(["mend", str(draft_copy), "--only", "bench_off"]) == 1
    out = capsys.readouterr().out
    assert "+  upon power returns provided bench_strip is on" in out
    assert "nothing that holds is broken" in out
    assert {p.name: p.read_bytes() for p in draft_copy.iterdir()} == before


def test_a_proposal_that_is_applied_proves_its_requirement(
    draft_copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rules = draft_copy / "rules.dusk"
    rules.write_bytes(rules.read_bytes().replace(b"\n", b"\r\n"))
    os.chmod(rules, 0o640)
    assert run(["mend", str(draft_copy), "--only", "bench_off", "--apply", "1"]) == 0
    assert "rules.dusk is changed" in capsys.readouterr().out
    data = rules.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n")
    assert rules.stat().st_mode & 0o777 == 0o640
    assert not [p for p in draft_copy.iterdir() if p.name.startswith(".")]
    assert run(["prove", str(draft_copy), "--only", "bench_off"]) == 0


def test_a_proposal_that_is_not_there_changes_nothing(
    draft_copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (draft_copy / "rules.dusk").read_bytes()
    assert run(["mend", str(draft_copy), "--only", "bench_off", "--apply", "99"]) == 2
    assert "[no-such-proposal]" in capsys.readouterr().out
    assert (draft_copy / "rules.dusk").read_bytes() == before


def test_a_requirement_that_is_not_there_is_told_before_anything_is_judged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["mend", DRAFT, "--only", "bench_of"]) == 2
    assert "bench_off" in capsys.readouterr().out


def test_mend_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["mend", DRAFT, "--only", "blink_late", "--format", "json"]) == 1
    told_ = json.loads(capsys.readouterr().out)
    assert told_["failing"] == ["blink_late"]
    assert told_["proposals"][0]["mended"] == ["blink_late"]


def test_mend_applied_is_told_as_json(draft_copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["mend", str(draft_copy), "--only", "bench_off", "--apply", "1", "--format", "json"]
    assert run(asked) == 0
    told_ = json.loads(capsys.readouterr().out)
    assert (told_["applied"], told_["files"]) == (1, ["rules.dusk"])
    assert told_["changes"]


def test_a_mistake_of_the_command_is_not_called_an_error_of_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    missing = tmp_path / "nowhere" / "report.html"
    assert run(["report", str(SPECS / "dock"), "-o", str(missing)]) == 2
    out = capsys.readouterr().out
    assert "[file-not-written]" in out
    assert "the job has" not in out
    assert run(["explain", str(SPECS / "dock"), "--only", "nobody"]) == 2
    assert "the job has" not in capsys.readouterr().out


# ---------------------------------------------------------------- test sheet


@pytest.mark.parametrize("ending", ["html", "csv"])
def test_a_test_sheet_is_written(
    tmp_path: Path, ending: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / f"sheet.{ending}"
    assert run(["testsheet", str(SPECS / "dock"), "-o", str(path)]) == 0
    assert "steps" in capsys.readouterr().out
    assert path.stat().st_size > 1000


def test_nothing_to_test_again_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "sheet.html"
    dock = str(SPECS / "dock")
    assert run(["testsheet", dock, "--since", dock, "-o", str(path)]) == 0
    assert "nothing to test again" in capsys.readouterr().out
    assert not path.exists()


def test_a_job_without_rules_has_nothing_to_try(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "job.dusk").write_text(
        "lamp a\nrequire x\n  never: a is on\nend require\n", "utf-8"
    )
    path = tmp_path / "sheet.html"
    assert run(["testsheet", str(tmp_path), "-o", str(path)]) == 2
    assert "[no-steps]" in capsys.readouterr().out
    assert not path.exists()


# ---------------------------------------------------------------- pictures

MADE = Diagram(
    "A & B <c>",
    (
        Instant(Fraction(0), False, "", ""),
        Instant(Fraction(0), False, "", "gate becomes open"),
        Instant(Fraction(60), True, "", "light has waited 1 min"),
    ),
    (
        Lane("gate", "Gate", "outside", ("shut", "open", "open"), (Fraction(0), Fraction(1), Fraction(1))),
        Lane("shutter", "Shutter", "outside", ("lowered", "moving", "moving"), (None, None, None)),
        Lane("light", "light", "rule", ("idle", "running", "idle"), (Fraction(0), Fraction(1), Fraction(0))),
        Lane("strip", "Strip", "output", ("off", "60 %", "off"), (Fraction(0), Fraction(3, 5), Fraction(0))),
        Lane("", "the promise", "claim", ("", "called on", "broken"), (None, None, None)),
    ),
    (Bar(2, 1, 2, Fraction(0), "1 min"),),
    (Mark(0, 2, "a", "gate is open"), Mark(3, 2, "b", "strip is off")),
)  # fmt: skip


def test_a_picture_has_a_title_a_description_and_every_word() -> None:
    root = ElementTree.fromstring(timing_svg(MADE))
    assert root.find(f"{SVG}title") is not None
    assert "gate becomes open" in (root.findtext(f"{SVG}desc") or "")
    words = [t.text for t in root.iter(f"{SVG}text")]
    for word in ("Gate", "shut", "open", "moving", "60 %", "broken", "a", "b", "1 min"):
        assert word in words


def test_every_text_of_a_picture_lies_inside_it() -> None:
    root = ElementTree.fromstring(timing_svg(MADE))
    _, _, width, height = (float(x) for x in root.attrib["viewBox"].split())
    for each in root.iter(f"{SVG}text"):
        x, y = float(each.attrib["x"]), float(each.attrib["y"])
        size = float(each.attrib.get("font-size", 12))
        length = len(each.text or "") * size * 0.62
        begin = x - {"middle": length / 2, "end": length}.get(each.attrib.get("text-anchor", ""), 0)
        assert begin >= -2, each.text
        assert begin + length <= width + 4, each.text
        assert size <= y <= height, each.text


def test_a_value_that_stays_is_written_once() -> None:
    words = [t.text for t in ElementTree.fromstring(timing_svg(MADE)).iter(f"{SVG}text")]
    assert words.count("open") == 1


@pytest.mark.parametrize("width", [40, 76, 140])
@pytest.mark.parametrize("plain", [True, False])
def test_a_picture_in_the_terminal_keeps_to_its_width(width: int, plain: bool) -> None:
    lines = timing_text(MADE, Paint(False, plain), width)
    narrowest = 12 + 14 + 20
    assert max(len(line) for line in lines) <= max(width, narrowest)
    if plain:
        assert all(line.isascii() for line in lines)
    text = "\n".join(lines)
    assert "(a)" in text
    assert "broken" in text


def test_colour_only_adds_to_what_is_said() -> None:
    painted = "\n".join(timing_text(MADE, Paint(True), 100))
    assert re.sub("\x1b\\[[0-9;]*m", "", painted) == "\n".join(timing_text(MADE, PLAIN, 100))


def test_a_page_stands_alone() -> None:
    text = page("A <title>", "<h1>x</h1>")
    assert text.startswith("<!DOCTYPE html>")
    assert '<html lang="en">' in text
    assert "A &lt;title&gt;" in text
    seen(text)
