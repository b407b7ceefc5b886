"""`duskproof play` as a person starts it: address, what is said, what goes wrong, how it ends."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from websockets.sync.client import connect
from websockets.typing import Origin

from tests.check import ROOT
from tests.front.play.served import Page, comes_true, page_processes, runs_away
from verifier.front.command_play import _open_at, house_of
from verifier.front.folder import read_folder
from verifier.front.play.first import first_job
from verifier.front.play.limits import ALONE, CLASSROOM
from verifier.front.play.serving import (
    USUAL_PORT,
    address_in_the_network,
    bound,
    hosts,
    usually_bound,
)
from verifier.pipeline import Question, prove

PLAY = (sys.executable, "-m", "verifier.front.command", "play")


@contextmanager
def started(*arguments: str) -> Iterator[tuple[subprocess.Popen[str], list[str]]]:
    with subprocess.Popen(
        (*PLAY, *arguments, "--no-browser"), cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        said: list[str] = []
        try:
            while not said or not said[-1].startswith("Ctrl-C"):
                line = process.stdout.readline()
                assert line, said
                said.append(line.rstrip("\n"))
            yield process, said
        finally:
            process.kill()


def test_it_says_where_the_page_is_and_ends_with_an_interrupt() -> None:
    with started("specs/washroom") as (process, said):
        address = said[0].removeprefix("Open ")
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[\w-]{24}/", address)
        with urllib.request.urlopen(address, timeout=60) as page:
            assert "<html" in page.read().decode()
        process.send_signal(signal.SIGINT)
        assert process.stdout is not None
        assert process.stdout.read() == "The page is closed.\n"
        assert process.wait(60) == 0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
def test_nothing_outlives_a_server_that_is_killed() -> None:
    before = page_processes()
    with started("specs/washroom") as (process, said):
        address = said[0].removeprefix("Open ")
        host = address.split("/")[2]
        with connect(
            address.replace("http", "ws", 1) + "socket", origin=Origin(f"http://{host}")
        ) as connection:
            page = Page(connection)
            page.text(1, runs_away())
            page.until("proving")
            assert comes_true(lambda: len(page_processes() - before) >= 4)
            started_here = page_processes() - before
            process.kill()
            process.wait(60)
            assert comes_true(lambda: not any(map(lives, started_here)))


def lives(process: int) -> bool:
    """Whether a process is there and not only waited for."""
    try:
        stat = Path(f"/proc/{process}/stat").read_text(encoding="utf-8")
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def test_each_start_has_a_token_of_its_own() -> None:
    made = [house_of(first_job(), 80, "", False, None, None).token for _ in range(3)]
    assert len(set(made)) == 3
    assert all(len(token) >= 24 for token in made)


def test_it_listens_on_this_machine_alone_unless_it_serves_a_classroom() -> None:
    with bound(0, False) as alone, bound(0, True) as classroom:
        assert alone.getsockname()[0] == "127.0.0.1"
        assert classroom.getsockname()[0] == "0.0.0.0"


def test_the_usual_port_is_taken_once_and_then_another() -> None:
    """What a browser keeps for a page it keeps for its port: the next start finds it again."""
    with usually_bound(False) as first, usually_bound(False) as second:
        ports = [int(each.getsockname()[1]) for each in (first, second)]
    assert ports[0] != ports[1]
    assert USUAL_PORT not in ports[1:]
    with usually_bound(False) as again:
        assert again.getsockname()[1] == ports[0] or ports[0] != USUAL_PORT


def test_a_classroom_is_told_plainly() -> None:
    said = _open_at("http://127.0.0.1:1/t/", "http://10.0.0.7:1/t/", True)
    assert "Learners open http://10.0.0.7:1/t/" in said
    assert "nothing is encrypted" in said
    assert "Everybody in the local network who knows this address" in said
    assert "nobody else can open the page" in _open_at("http://127.0.0.1:1/t/", "", True)


def test_the_names_of_the_server_have_its_port() -> None:
    assert hosts(8123, "") == ("127.0.0.1:8123", "localhost:8123")
    assert "10.0.0.7:8123" in hosts(8123, "10.0.0.7")
    assert "10.0.0.7" in hosts(80, "10.0.0.7")  # a browser leaves the usual port out
    found = address_in_the_network()
    assert not found or re.fullmatch(r"\d+\.\d+\.\d+\.\d+", found)


def test_limits_are_tighter_in_a_classroom_and_a_time_limit_is_kept() -> None:
    from fractions import Fraction

    reading = read_folder(str(ROOT / "specs" / "stair"))
    assert house_of(reading, 1, "", False, None, None).setup.limits == ALONE
    classroom = house_of(reading, 1, "", True, Fraction(45), None)
    assert classroom.classroom
    assert classroom.setup.limits.requirement_s == 45
    assert classroom.setup.limits.judged_s >= 3 * 45
    assert classroom.setup.limits.pages == CLASSROOM.pages == 30


def test_a_port_that_is_taken_is_told() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        result = subprocess.run(
            (*PLAY, "--no-browser", "--port", port),
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
    assert result.returncode == 2
    assert f"port {port}" in result.stdout
    assert "[port-not-free]" in result.stdout
    assert result.stderr == ""


def test_a_folder_without_a_job_is_told_before_anything_is_served(tmp_path: Path) -> None:
    result = subprocess.run(
        (*PLAY, "--no-browser", str(tmp_path)),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 2
    assert "[no-files]" in result.stdout


def test_without_the_libraries_it_says_what_to_install() -> None:
    program = (
        "import sys; sys.modules['uvicorn'] = None; from verifier.front.command import run; "
        "sys.exit(run(['play', '--no-browser']))"
    )
    result = subprocess.run(
        (sys.executable, "-c", program), cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 2
    assert 'pip install "duskproof[play]"' in result.stdout


def test_proving_does_not_load_the_server() -> None:
    program = (
        "import sys; from verifier.front.command import run; run(['prove', 'specs/washroom']); "
        "print([m for m in sys.modules if m.split('.')[0] in ('starlette', 'uvicorn', 'websockets', "
        "'anyio') or m.startswith(('verifier.front.play', 'verifier.teach'))])"
    )
    result = subprocess.run(
        (sys.executable, "-c", program), cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.stdout.strip().endswith("[]"), result.stdout


@pytest.mark.parametrize(("name", "verdict"), [("lit", "Refuted"), ("off_again", "Refuted")])
def test_the_first_job_has_something_to_find(name: str, verdict: str) -> None:
    reading = first_job()
    result = prove(reading.sources, reading.name, Question(), lambda *_: None)
    assert {r.name: type(v).__name__ for r, v, _ in result.verdicts}[name] == verdict
    assert not result.rejected
