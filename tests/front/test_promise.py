"""`duskproof promise`: the paper before there are rules, as text, page, PDF and JSON; wrong input."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.check import ROOT
from verifier.front import command

BOATHOUSE = ROOT / "specs" / "boathouse"


@pytest.fixture
def no_rules(tmp_path: Path) -> Path:
    """The boathouse before anybody has written a rule."""
    folder = tmp_path / "boathouse"
    folder.mkdir()
    for name in ("points.dusk", "promises.dusk"):
        (folder / name).write_text((BOATHOUSE / name).read_text("utf-8"), "utf-8")
    return folder


def ran(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = command.run(["promise", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


class Read(HTMLParser):
    """The tags of a page, checked for being closed, and its headings."""

    void = frozenset({"meta", "br", "rect", "path", "circle", "hr", "img", "link"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in self.void:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.void:
            assert self.open.pop() == tag


def test_promises_are_read_back_before_there_are_rules(
    no_rules: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = ran(capsys, str(no_rules))
    assert code == 0
    assert "Whenever it is night and the roller shutter is moving, the bay lights are on." in out
    assert out.count("This keeps it.") == out.count("This breaks it.") == 18
    assert "59 s after the last time the porch light is off: in time." in out
    assert "Only 1 min 1 s after the last time the porch light is off: too late." in out
    assert "signature" in out
    assert err == (
        "Still to be written: the rules shutter_light, bench_light, room_on and left_open.\n"
    )
    assert all(len(line) <= 100 for line in out.splitlines())


def test_with_rules_the_paper_is_the_same_but_for_the_rules_titles(
    no_rules: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    only = ("--only", "porch_off", "--only", "moving_light")
    bare = ran(capsys, str(no_rules), *only)[1]
    full = ran(capsys, str(BOATHOUSE), *only)
    assert full[1] == bare
    assert full[2] == ""


def test_the_page_stands_alone_and_is_well_made(
    no_rules: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "promises.html"
    assert ran(capsys, str(no_rules), "-o", str(path))[0] == 0
    page = path.read_text("utf-8")
    read = Read()
    read.feed(page)
    assert not read.open
    assert not read.seen & {"script", "img", "link", "iframe"}
    assert len(set(read.ids)) == len(read.ids)
    assert not re.search(r'(?:src|href)="(?!#)', page)
    pictures = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(pictures) == 2 * 18 + 2
    for picture in pictures:
        ElementTree.fromstring(picture)
    for number in range(1, 21):
        assert f'id="promise-{number}"' in page
    assert "Signature" in page
    assert "Cautions" in page


def test_a_label_is_text_and_no_markup(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "job.dusk").write_text(
        'lamp a "<b>Lamp</b> & co"\nrequire r "<script>alert(1)</script>"\n  never: a is on\nend require\n',
        "utf-8",
    )
    path = tmp_path / "p.html"
    assert ran(capsys, str(tmp_path), "-o", str(path))[0] == 0
    page = path.read_text("utf-8")
    assert "<script" not in page
    assert "&lt;b&gt;lamp" in page.lower()


def test_the_pdf_says_what_the_page_says(
    no_rules: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    path = tmp_path / "promises.pdf"
    assert ran(capsys, str(no_rules), "--only", "porch_off", "-o", str(path))[0] == 0
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())
    assert "the porch light is off: too late." in text
    assert "Signature" in text


def test_a_text_file_is_written_whole(
    no_rules: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "promises.txt"
    code, out, _ = ran(capsys, str(no_rules), "-o", str(path))
    assert (code, out) == (0, f"The promises are in {path}.\n")
    assert "\x1b" not in path.read_text("utf-8")
    assert path.read_text("utf-8").endswith("\n")


def test_json_has_the_timelines_as_values_from_moments_on(
    no_rules: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = ran(capsys, str(no_rules), "--only", "fan_short", "--format", "json")
    assert (code, err) == (0, "")
    (promise,) = json.loads(out)["promises"]
    keeps, breaks = promise["runs"]
    assert keeps["values"] == {"fan": [["0", "off"], ["10", "on"], ["1209", "off"]]}
    assert keeps["broken"] is None
    assert breaks["broken"] == {"at_s": "1210", "just_after": True}
    assert promise["form"] == "no longer than 20 min: fan is on"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--only", "porch_of"), "Did you mean porch_off or"),
        (("-o", "/nowhere/at/all/p.html"), "cannot be written"),
    ],
)
def test_what_cannot_be_done_is_told(
    no_rules: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: str
) -> None:
    code, out, _ = ran(capsys, str(no_rules), *arguments)
    assert code == 2
    assert words in out


def test_a_mistake_beside_a_rule_to_come_is_still_told(
    no_rules: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (no_rules / "promises.dusk").open("a", encoding="utf-8") as stream:
        stream.write('require more "More"\n  never: bay_light is on\nend require\n')
    code, out, _ = ran(capsys, str(no_rules))
    assert code == 2
    assert "there is no point called bay_light" in out


def test_a_job_without_requirements_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "job.dusk").write_text("lamp a\n", "utf-8")
    code, out, _ = ran(capsys, str(tmp_path))
    assert code == 2
    assert "no-requirements" in out
