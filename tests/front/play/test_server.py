"""The page's server over real sockets: who may come in, what is told, and that it lives on."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import sys
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Origin

from tests.front.play.served import (
    CHAIN,
    PORCH,
    TOKEN,
    Page,
    Served,
    comes_true,
    frame,
    many_rooms,
    many_rules,
    page_processes,
    raw_socket,
    runs_away,
    served,
)
from verifier.front.play import session
from verifier.front.play.limits import Limits
from verifier.front.play.orders import Setup
from verifier.front.play.process import FIRST_TO_GO
from verifier.front.play.server import HEADERS
from verifier.language.highlighting import words
from verifier.pipeline import Keeping, Question, prove
from verifier.source import SourceFile, Sources

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")


@pytest.fixture(scope="module")
def server() -> Iterator[Served]:
    with served(Limits(rules=500, requirement_s=60, cut_s=1)) as running:
        yield running


# ---------------------------------------------------------------- who may come in


def ask(
    server: Served, path: str, method: str = "GET", **headers: str
) -> tuple[int, dict[str, str], str]:
    """Status, headers and text of an answer, asked without a library that tidies up the question."""
    connection = HTTPConnection("127.0.0.1", server.port, timeout=60)
    connection.putrequest(method, path, skip_host="host" in headers)
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    response = connection.getresponse()
    text = response.read().decode()
    connection.close()
    return response.status, {k.lower(): v for k, v in response.getheaders()}, text


def turned_away(server: Served, path: str, origin: str | None, host: str = "") -> bool:
    """Whether a socket is not opened."""
    try:
        with connect(
            f"ws://127.0.0.1:{server.port}{path}",
            origin=None if origin is None else Origin(origin),
            additional_headers={"Host": host} if host else None,
        ):
            return False
    except InvalidStatus as status:
        return status.response.status_code in (400, 403)


@pytest.mark.parametrize("path", ["/", f"/{TOKEN[:-1]}/", "/index.html", f"//{TOKEN}/", "/%00/"])
def test_without_the_token_there_is_nothing(server: Served, path: str) -> None:
    status, _, text = ask(server, path)
    assert status == 404
    assert TOKEN not in text


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1:1", "127.0.0.1.evil.example", "", "[::1]"]
)
def test_under_another_name_nobody_comes_in_even_with_the_token(server: Served, host: str) -> None:
    """Against rebinding of names: another page's name that leads to this machine."""
    assert ask(server, f"/{TOKEN}/", host=host)[0] == 421
    assert turned_away(server, f"/{TOKEN}/socket", f"http://{host}", host or "x")


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "LOCALHOST"])
def test_the_machine_itself_comes_in_by_either_of_its_names(server: Served, name: str) -> None:
    assert ask(server, f"/{TOKEN}/", host=f"{name}:{server.port}")[0] == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", None, "https://127.0.0.1:PORT", "http://127.0.0.1"]
)
def test_a_socket_is_opened_for_our_own_page_alone(server: Served, origin: str | None) -> None:
    given = origin and origin.replace("PORT", str(server.port))
    assert turned_away(server, f"/{TOKEN}/socket", given)


@pytest.mark.parametrize("path", ["/socket", f"/{TOKEN}x/socket", f"/{TOKEN}/other"])
def test_a_socket_needs_the_whole_address(server: Served, path: str) -> None:
    assert turned_away(server, path, f"http://127.0.0.1:{server.port}")


@pytest.mark.parametrize("path", [f"/{TOKEN}/", "/", f"/{TOKEN}/none.js"])
def test_every_answer_has_the_headers(server: Served, path: str) -> None:
    _, headers, _ = ask(server, path)
    assert {name: headers[name] for name in HEADERS} == dict(HEADERS)
    assert not {"set-cookie", "server"} & headers.keys()
    policy = headers["content-security-policy"]
    assert "unsafe" not in policy
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self'")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "PATCH"])
def test_nothing_can_be_sent_but_over_the_socket(server: Served, method: str) -> None:
    assert ask(server, f"/{TOKEN}/", method)[0] == 405


@pytest.mark.parametrize(
    "path", ["../server.py", "%2e%2e/server.py", "..%2fserver.py", "static/../../server.py"]
)
def test_only_the_files_of_the_page_are_served(server: Served, path: str) -> None:
    assert ask(server, f"/{TOKEN}/{path}")[0] == 404


@pytest.mark.parametrize("target", ["*", "//x/y", "/%ff%fe/", "/%00/"])
def test_a_target_that_is_no_path_of_ours_is_turned_away_in_words(
    server: Served, target: str
) -> None:
    """Source of the forms: RFC 9112, 3.2."""
    status, _, words = ask(server, target, "OPTIONS" if target == "*" else "GET")
    assert status == 404
    assert "not whole" in words


def test_the_page_itself_is_served(server: Served) -> None:
    status, headers, text = ask(server, f"/{TOKEN}/")
    assert status == 200
    assert headers["content-type"].startswith("text/html")
    assert "<html" in text


# ---------------------------------------------------------------- what is told


def test_a_page_is_told_what_it_begins_with(server: Served) -> None:
    with server.connected() as connection:
        hello = json.loads(connection.recv(60))
    assert hello["kind"] == "hello"
    assert hello["job"] == "made"
    assert hello["files"] == {"job.dusk": PORCH}
    assert hello["limits"]["text_bytes"] == 1_000_000
    assert hello["classroom"] is False
    assert {"rule", "end rule"} <= set(hello["keywords"])
    assert (hello["keywords"], hello["values"]) == (list(words().keywords), list(words().values))


def test_a_text_is_checked_and_then_judged_as_prove_does(page: Page) -> None:
    page.text(1, PORCH)
    checked = page.next()
    assert checked["kind"] == "checked"
    assert [each["name"] for each in checked["requirements"]] == ["lit", "bright"]
    assert checked["requirements"][1]["plain"].startswith("Whenever the side door is open")
    assert page.next() == {"kind": "proving", "version": 1}
    found = page.verdicts(1)
    result = prove(Sources((SourceFile("job.dusk", PORCH),)), "made", Question(), lambda *_: None)
    assert found == {r.name: type(v).__name__.lower() for r, v, _ in result.verdicts}
    assert found == {"lit": "proved", "bright": "refuted"}
    assert page.heard[-1]["interrupted"] is False


def test_a_mistake_is_told_with_its_place_and_nothing_is_proved(page: Page) -> None:
    text = '# 🛶 the boats\nlamp porch "🛶" 12 W\nlamp 12\n'
    page.text(1, text)
    checked = page.next()
    (found,) = [d for d in checked["diagnostics"] if d["severity"] == "error"]
    units = text.encode("utf-16-le")
    assert units[2 * found["from"] : 2 * found["to"]].decode("utf-16-le") == "12"
    assert (found["line"], found["column"]) == (3, 6)
    page.say("story", version=1, requirement="lit")
    assert page.next()["kind"] == "error"


def test_a_story_has_the_lines_that_acted(page: Page) -> None:
    text = "# 🛶\n" + PORCH + "require short\n  no longer than 1 min: porch is on\nend require\n"
    page.text(7, text)
    page.verdicts(7)
    page.say("story", version=7, requirement="short")
    told = page.until("story")
    units = text.encode("utf-16-le")
    lines = [line for moment in told["story"]["moments"] for line in moment["lines"]]
    assert [units[2 * each["from"] : 2 * each["to"]].decode("utf-16-le") for each in lines][:1] == [
        "upon side_door becomes open"
    ]
    assert told["story"]["svg"].startswith("<svg")
    assert "style=" not in told["story"]["svg"]  # the page's policy would refuse it
    lanes = told["story"]["diagram"]["lanes"]
    assert all(len(lane["heights"]) == len(lane["values"]) for lane in lanes)


@pytest.mark.parametrize(
    ("requirement", "version", "said"),
    [("lit", 3, "does not fail"), ("none", 3, "no requirement"), ("bright", 2, "no requirement")],
)
def test_a_story_that_there_is_not_is_refused_in_words(
    page: Page, requirement: str, version: int, said: str
) -> None:
    page.text(3, PORCH)
    page.verdicts(3)
    page.say("story", version=version, requirement=requirement)
    assert said in page.until("error")["words"]


# ---------------------------------------------------------------- limits


def test_a_new_text_cuts_the_proof_of_the_old_one_short(page: Page) -> None:
    page.text(1, runs_away())
    page.until("proving", version=1)
    page.text(2, PORCH)
    assert page.verdicts(2) == {"lit": "proved", "bright": "refuted"}
    ends = [m for m in page.heard if m["kind"] == "judged" and m["version"] == 1]
    assert [m["interrupted"] for m in ends] == [True]
    assert not [m for m in page.heard if m["kind"] in ("limit", "error")]


def test_a_proof_is_stopped_when_that_is_asked_for(page: Page) -> None:
    page.text(1, runs_away())
    page.until("proving", version=1)
    page.say("stop")
    assert page.until("judged")["interrupted"] is True
    page.text(2, PORCH)
    assert page.verdicts(2) == {"lit": "proved", "bright": "refuted"}


def test_a_page_checks_while_it_proves(page: Page) -> None:
    page.text(1, runs_away())
    page.until("proving", version=1)
    page.text(2, "lamp 12\n")
    assert page.until("checked", version=2)["diagnostics"]


def test_a_proof_that_runs_away_is_undecided_within_its_limit() -> None:
    with served(Limits(requirement_s=1, judged_s=60)) as server, server.page() as page:
        page.text(1, runs_away())
        verdict = page.until("verdict")
        assert verdict["verdict"] == "undecided"
        assert re.search("time ran out|stopped at its limit", verdict["reason"])
        page.until("judged")


def test_proving_as_a_whole_has_a_limit_and_says_so() -> None:
    with served(Limits(requirement_s=60, judged_s=1)) as server, server.page() as page:
        page.text(1, runs_away())
        assert page.until("judged")["interrupted"] is True
        limit = page.until("limit")
        assert limit["what"] == "time"
        assert "1 s" in limit["words"]
        page.text(2, PORCH)
        page.until("checked", version=2)


def test_a_paste_of_5_mb_is_refused_in_words(page: Page) -> None:
    page.text(1, "# a long remark, again and again\n" * 160_000)
    limit = page.next()
    assert (limit["kind"], limit["what"]) == ("limit", "text")
    assert re.search(r"5\.[34] MB", limit["words"])
    page.text(2, PORCH)
    assert page.verdicts(2) == {"lit": "proved", "bright": "refuted"}


def test_a_message_beyond_all_bounds_closes_its_page_alone(server: Served, page: Page) -> None:
    with server.page() as other:
        with contextlib.suppress(ConnectionClosed):
            other.text(1, "#" * 9_000_000)
        with pytest.raises(ConnectionClosed):
            other.next()
    page.text(1, PORCH)
    assert page.verdicts(1) == {"lit": "proved", "bright": "refuted"}


def test_an_endless_chain_is_told(page: Page) -> None:
    page.text(1, CHAIN)
    judged = page.until("judged")
    assert judged["rejected"] is True
    (chain,) = [f for f in judged["findings"] if f["code"] == "endless-chain"]
    assert CHAIN[chain["from"] : chain["to"]]


def test_a_thousand_rules_are_checked_and_not_proved(page: Page) -> None:
    page.text(1, many_rules(1_000))
    assert page.next()["kind"] == "checked"
    limit = page.next()
    assert (limit["kind"], limit["what"]) == ("limit", "rules")
    assert "1,000 rules" in limit["words"]
    assert "500" in limit["words"]
    page.text(2, PORCH)
    assert page.verdicts(2) == {"lit": "proved", "bright": "refuted"}


def test_what_needs_too_much_memory_is_stopped_in_words() -> None:
    with served(Limits(memory=20 << 20, desk_s=80)) as server, server.page() as page:
        page.text(1, many_rooms(40_000))
        limit = page.until("limit")
        assert limit["what"] == "memory"
        assert "20 MB" in limit["words"]
        page.text(2, "lamp 12\n")
        page.until("checked", version=2)


def test_two_pages_do_not_hold_each_other_up(server: Served, page: Page) -> None:
    page.text(1, runs_away())
    page.until("proving")
    with server.page() as other:
        other.text(1, PORCH)
        assert other.verdicts(1) == {"lit": "proved", "bright": "refuted"}
    page.say("stop")
    page.until("judged")


def test_there_is_a_last_page() -> None:
    with (
        served(Limits(pages=2)) as server,
        server.page(),
        server.page(),
        server.connected() as third,
    ):
        limit = json.loads(third.recv(60))
        assert (limit["kind"], limit["what"]) == ("limit", "pages")
        with pytest.raises(ConnectionClosed):
            third.recv(60)


# ---------------------------------------------------------------- processes


@linux
def test_closing_a_page_ends_its_work() -> None:
    with served() as server:
        before = page_processes()
        with server.page() as page:
            page.text(1, runs_away())
            page.until("proving")
            assert comes_true(lambda: len(page_processes() - before) >= 3)
        assert comes_true(lambda: not page_processes() - before)


@linux
def test_where_memory_runs_out_the_work_of_pages_ends_before_other_programs() -> None:
    """Thirty pages may want more together than a machine has, though each keeps to its limit."""
    with served() as server:
        before = page_processes()
        with server.page() as page:
            page.text(1, runs_away())
            page.until("proving")
            assert comes_true(lambda: len(page_processes() - before) >= 3)
            ours = {ready_to_go(process) for process in page_processes() - before}
    assert ours == {str(FIRST_TO_GO)}
    assert ready_to_go(os.getpid()) != str(FIRST_TO_GO)


def ready_to_go(process: int) -> str:
    return Path(f"/proc/{process}/oom_score_adj").read_text(encoding="ascii").strip()


@linux
def test_the_end_of_the_server_ends_all_work() -> None:
    before = page_processes()
    with served() as server:
        opened = server.page()
        page = opened.__enter__()
        page.text(1, runs_away())
        page.until("proving")
        assert page_processes() - before
    assert comes_true(lambda: not page_processes() - before)
    opened.__exit__(None, None, None)


@linux
def test_a_page_goes_on_when_its_processes_are_killed() -> None:
    with served() as server:
        before = page_processes()
        with server.page() as page:
            page.text(1, runs_away())
            page.until("proving")
            for process in page_processes() - before:
                os.kill(process, signal.SIGKILL)
            assert "has died" in page.until("error")["words"]
            page.text(2, PORCH)
            assert page.verdicts(2) == {"lit": "proved", "bright": "refuted"}
            page.say("story", version=2, requirement="bright")
            page.until("story")


@linux
def test_a_page_does_not_notice_when_idle_processes_are_killed() -> None:
    with served() as server:
        before = page_processes()
        with server.page() as page:
            for version in range(1, 4):
                page.text(version, PORCH)
                assert page.verdicts(version) == {"lit": "proved", "bright": "refuted"}
                for process in page_processes() - before:
                    with contextlib.suppress(ProcessLookupError):
                        os.kill(process, signal.SIGKILL)
                page.say("story", version=version, requirement="bright")
                page.until("story")
            assert [m.get("words") for m in page.heard if "words" in m] == []


def test_a_page_that_does_not_read_is_taken_for_gone_and_others_go_on(
    server: Served, page: Page
) -> None:
    """Whoever asks and asks, and never takes an answer, fills no memory."""
    with raw_socket(server) as asking:
        many = frame('{"kind":"sing, and sing, and sing again"}') * 500_000
        asking.settimeout(3)
        with pytest.raises(OSError, match=r"reset|[Bb]roken|timed out"):
            asking.sendall(many)
        page.text(1, PORCH)
        assert page.verdicts(1) == {"lit": "proved", "bright": "refuted"}


def test_what_is_not_read_is_counted_by_its_length_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Few answers, each a long one: they fill a memory as well as many short ones."""

    async def send(text: str) -> None:
        raise AssertionError(text)

    monkeypatch.setattr(session, "UNREAD_CHARACTERS", 10_000)
    setup = Setup("made", Limits(), (2027, 2056), Keeping(None, None))
    other = session.Page(setup, send)
    for _ in range(5):
        other.tell({"kind": "error", "words": "x" * 2_000})
    with pytest.raises(session.NotRead):
        other.tell({"kind": "error", "words": "one more"})


# ---------------------------------------------------------------- anything at all

_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)
_KINDS = st.sampled_from(
    ["text", "stop", "story", "room", "lessons", "lesson", "answer", "challenge", "hint", "format"]
)
_DOING = st.sampled_from(["start", "act", "pass", "due", "choose", "undo", "against", "end"])
_FIELDS = st.fixed_dictionaries(
    {"kind": _KINDS | st.text(max_size=8)},
    optional={
        "version": st.integers(0, 3) | _VALUES,
        "files": st.dictionaries(
            st.sampled_from(["job.dusk", "../job.dusk", ""]), st.sampled_from([PORCH, "", "lamp\n"])
        )
        | _VALUES,
        "requirement": st.sampled_from(["lit", "bright"]) | _VALUES,
        "do": _DOING | _VALUES,
        "key": st.text(max_size=8) | _VALUES,
        "seconds": st.sampled_from(["1.5", "60", 3, "1e999", "-1"]) | _VALUES,
        "lesson": st.text(max_size=8) | _VALUES,
        "name": st.text(max_size=8) | _VALUES,
        "question": _VALUES,
        "answer": _VALUES,
        "step": st.integers(0, 4),
        "file": st.sampled_from(["job.dusk"]) | _VALUES,
    },
)
_MESSAGES = (
    _FIELDS.map(lambda value: json.dumps(value))
    | st.text(max_size=40)
    | st.sampled_from(
        ["[" * 3_000, '{"kind":' * 500, '{"kind":"text","version":1e400}', "", "\x00", "9" * 5_000]
    )
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(_MESSAGES, max_size=8))
def test_no_message_brings_a_page_down(page: Page, messages: list[str]) -> None:
    for message in messages:
        page.connection.send(message)
    page.connection.send(b"\x00\xff")
    page.text(9_999, PORCH)
    assert page.verdicts(9_999) == {"lit": "proved", "bright": "refuted"}
    faults = [m for m in page.heard if "the tool itself failed" in str(m.get("words", ""))]
    assert faults == []
    page.heard.clear()
