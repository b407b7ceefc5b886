"""The server through a client of its own: an editor's messages in, an editor's messages out.

Source of the messages: the Language Server Protocol, as pytest-lsp's client speaks it.
"""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest
import pytest_lsp
from lsprotocol import types
from pytest_lsp import ClientServerConfig, LanguageClient, client_capabilities

from tests.benchmarks.families import hall
from tests.check import ROOT
from tests.fuzz.edits import edited

LONG_S = 60.0
"""How long a test waits for a proof before it gives up; no figure of speed."""


class Client(LanguageClient):
    """A client that keeps what the server tells of the requirements."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[Any] = []
        self.versions: dict[str, int] = {}
        self.news = asyncio.Event()

    def open(self, path: Path, text: str | None = None) -> str:
        """Opens a file, with another text than on disk if one is given."""
        uri = path.as_uri()
        said = path.read_text(encoding="utf-8") if text is None else text
        item = types.TextDocumentItem(uri, "duskproof", 1, said)
        self.versions[uri] = 1
        self.text_document_did_open(types.DidOpenTextDocumentParams(item))
        return uri

    def change(self, uri: str, text: str) -> None:
        """Types: the whole text is another."""
        self.versions[uri] += 1
        self.text_document_did_change(
            types.DidChangeTextDocumentParams(
                types.VersionedTextDocumentIdentifier(self.versions[uri], uri),
                [types.TextDocumentContentChangeWholeDocument(text)],
            )
        )

    def save(self, uri: str) -> None:
        """Saves."""
        self.text_document_did_save(
            types.DidSaveTextDocumentParams(types.TextDocumentIdentifier(uri))
        )

    async def run(self, command: str, *arguments: str) -> Any:
        """Runs a command of the server."""
        return await self.workspace_execute_command_async(
            types.ExecuteCommandParams(command, list(arguments))
        )

    async def until(self, wanted: Any) -> Any:
        """The newest states of the requirements, once they are as is wanted."""

        return await self._when(
            lambda: self.told[-1] if self.told and wanted(self.told[-1]) else None
        )

    async def findings(self, uri: str, wanted: Any) -> list[types.Diagnostic]:
        """The findings of a document, once they are as is wanted."""

        def there() -> list[types.Diagnostic] | None:
            found = list(self.diagnostics.get(uri, []))
            return found if wanted(found) else None

        found: list[types.Diagnostic] = await self._when(there)
        return found

    async def _when(self, there: Any) -> Any:
        """What a function gives as soon as it gives something but None."""

        async def wait() -> Any:
            while (found := there()) is None:
                self.news.clear()
                await self.news.wait()
            return found

        return await asyncio.wait_for(wait(), LONG_S)


def made_client() -> Client:
    client = Client()

    def states(params: Any) -> None:
        client.told.append(params)
        client.news.set()

    def diagnostics(params: types.PublishDiagnosticsParams) -> None:
        client.diagnostics[params.uri] = params.diagnostics
        client.news.set()

    def document(params: types.ShowDocumentParams) -> types.ShowDocumentResult:
        client.shown_documents.append(params)
        return types.ShowDocumentResult(True)

    def message(params: types.ShowMessageParams) -> None:
        client.messages.append(params)

    def nothing(_: Any) -> None:
        return None

    client.feature("duskproof/states")(states)
    client.feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)(diagnostics)
    client.feature(types.WINDOW_SHOW_DOCUMENT)(document)
    client.feature(types.WINDOW_SHOW_MESSAGE)(message)
    for quiet in (
        types.WORKSPACE_CODE_LENS_REFRESH,
        types.WINDOW_WORK_DONE_PROGRESS_CREATE,
        types.PROGRESS,
    ):
        client.feature(quiet)(nothing)
    return client


ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "DUSKPROOF_CACHE": "off"}


@pytest_lsp.fixture(  # type: ignore[untyped-decorator]
    config=ClientServerConfig(
        server_command=[sys.executable, "-m", "verifier.front.command", "serve-editor"],
        client_factory=made_client,
        server_env=ENVIRONMENT,
    )
)
async def client(lsp_client: Client) -> AsyncIterator[None]:
    await lsp_client.initialize_session(
        types.InitializeParams(capabilities=client_capabilities("visual_studio_code"))
    )
    yield
    await lsp_client.shutdown_session()


POINTS = """\
button push "Push-button"
lamp   light "Light" 20 W
setting long 1 min
"""
RULES = """\
rule lit "Light for a while"
  non-retriggerable
  upon push pressed
  do
    light on
    wait long
    light off
end rule
"""
PROMISES = """\
require enough "Never shorter than 20 s"
  no shorter than 20 s: light is on
end require

require short "Never longer than half a minute"
  no longer than 30 s: light is on
end require
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "lobby"
    folder.mkdir()
    (folder / "points.dusk").write_text(POINTS, encoding="utf-8")
    (folder / "rules.dusk").write_text(RULES, encoding="utf-8")
    (folder / "promises.dusk").write_text(PROMISES, encoding="utf-8")
    return folder


def states_of(told: Any) -> dict[str, str]:
    return {each.name: each.state for each in told.requirements}


def is_judged(told: Any) -> bool:
    return not told.running and all(each.state != "stale" for each in told.requirements)


def position(text: str, word: str, number: int = 1) -> types.Position:
    """Inside of a word, at its n-th place in a text without letters of two units."""
    at = -1
    for _ in range(number):
        at = text.index(word, at + 1)
    return types.Position(text.count("\n", 0, at), at + 1 - (text.rfind("\n", 0, at) + 1))


def inside(uri: str) -> types.TextDocumentIdentifier:
    return types.TextDocumentIdentifier(uri)


# ---------------------------------------------------------------- as one types


@pytest.mark.asyncio
async def test_a_mistake_is_underlined_at_once_and_goes_with_its_correction(
    client: Client, job: Path
) -> None:
    uri = client.open(job / "rules.dusk")
    client.change(uri, RULES.replace("  do\n", "  dow\n"))
    found = await client.findings(uri, lambda f: len(f) == 1)
    assert found[0].severity is types.DiagnosticSeverity.Error
    assert found[0].source == "duskproof"
    assert found[0].range.start.line == 3
    client.change(uri, RULES)
    await client.findings(uri, lambda f: not f)


@pytest.mark.asyncio
async def test_a_name_of_another_file_is_known_and_its_loss_is_told_in_both(
    client: Client, job: Path
) -> None:
    rules, points = client.open(job / "rules.dusk"), client.open(job / "points.dusk")
    client.change(points, POINTS.replace("lamp   light", "lamp   glow"))
    found = await client.findings(rules, lambda f: len(f) == 2)
    assert {each.code for each in found} == {"unknown-name"}
    client.change(points, POINTS)
    await client.findings(rules, lambda f: not f)


@pytest.mark.asyncio
async def test_columns_are_counted_in_utf_16_units(client: Client, job: Path) -> None:
    """Two units for a letter beyond the basic plane: the protocol's default encoding."""
    text = POINTS + 'lamp lamp_b "𝟙𝟙" 5 W starts dim\n'
    uri = client.open(job / "points.dusk", text)
    found = await client.findings(uri, lambda f: len(f) == 1)
    line = text.splitlines()[3].encode("utf-16-le")
    begin, end = found[0].range.start.character, found[0].range.end.character
    assert line[2 * begin : 2 * end].decode("utf-16-le") == "dim"


# ---------------------------------------------------------------- verdicts and their state


@pytest.mark.asyncio
async def test_saving_proves_and_an_edit_makes_all_stale_until_it_is_taken_back(
    client: Client, job: Path
) -> None:
    rules, promises = client.open(job / "rules.dusk"), client.open(job / "promises.dusk")
    client.save(rules)
    told = await client.until(is_judged)
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    found = await client.findings(promises, lambda f: len(f) == 1)
    assert found[0].code == "failed"
    assert "short: fails: " in found[0].message
    acted = found[0].related_information
    assert acted is not None
    assert acted[0].location.uri == rules

    client.change(rules, RULES.replace("wait long", "wait 30 s"))
    told = await client.until(lambda t: set(states_of(t).values()) == {"stale"})
    await client.findings(promises, lambda f: not f)
    client.change(rules, RULES)
    told = await client.until(is_judged)
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    # A comment changes nothing that is meant.
    client.change(rules, "# a remark\n" + RULES)
    lenses = await client.text_document_code_lens_async(types.CodeLensParams(inside(promises)))
    assert lenses is not None
    titles = [each.command.title for each in lenses if each.command is not None]
    assert titles[0] == "✓ proved for all runs"
    # A mistake leaves nothing green.
    client.change(rules, RULES.replace("end rule", "end"))
    told = await client.until(lambda t: set(states_of(t).values()) == {"stale"})
    assert set(states_of(told)) == {"enough", "short"}


@pytest.mark.asyncio
async def test_a_new_save_is_judged_whatever_the_old_one_was_at(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk")
    for seconds in (50, 40, 20, 10):
        client.change(rules, RULES.replace("wait long", f"wait {seconds} s"))
        client.save(rules)
        await asyncio.sleep(0)
    told = await client.until(lambda t: is_judged(t) and states_of(t)["short"] == "proved")
    assert states_of(told) == {"enough": "failed", "short": "proved"}


@pytest.mark.asyncio
async def test_an_endless_chain_leaves_nothing_green(client: Client, job: Path) -> None:
    chain = (
        "flag a\nflag b\n"
        "rule one\n  retriggerable\n  upon a changes\n  do\n    if b is yes then\n      b no\n"
        "    else\n      b yes\n    end if\nend rule\n"
        "rule two\n  retriggerable\n  upon b changes\n  do\n    if a is yes then\n      a no\n"
        "    else\n      a yes\n    end if\nend rule\n"
        "rule three\n  upon push pressed\n  do\n    a yes\nend rule\n"
    )
    rules = client.open(job / "rules.dusk", RULES + chain)
    client.save(rules)
    told = await client.until(lambda t: t.running)
    told = await client.until(lambda t: not t.running)
    assert "proved" not in states_of(told).values()
    found = await client.findings(rules, lambda f: any(each.code == "endless-chain" for each in f))
    assert found


@pytest.mark.asyncio
async def test_story_and_changes_are_given_for_what_fails(client: Client, job: Path) -> None:
    promises = client.open(job / "promises.dusk")
    client.open(job / "rules.dusk")
    client.save(promises)
    await client.until(is_judged)
    story = await client.run("duskproof.story", promises, "short")
    assert "The promise is broken" in story
    proof = await client.run("duskproof.story", promises, "enough")
    assert "checked by z3 and cvc5" in proof

    at = position(PROMISES, "short", 3)
    around = types.Range(at, at)
    asked = types.CodeActionParams(inside(promises), around, types.CodeActionContext([]))
    offered = await client.text_document_code_action_async(asked)
    assert offered is not None
    assert [each.title for each in offered] == [
        "Look for changes of the rules that put short right"
    ]
    assert await client.run("duskproof.mend", promises, "short") > 0
    offered = await client.text_document_code_action_async(asked)
    assert offered is not None
    first = offered[0]
    assert isinstance(first, types.CodeAction)
    assert first.edit is not None
    assert first.edit.changes is not None
    assert "breaks" not in first.title
    (uri, edits), *others = first.edit.changes.items()
    assert not others
    text = applied(Path(job / uri.rpartition("/")[2]).read_text(encoding="utf-8"), edits)
    client.change(client.open(job / uri.rpartition("/")[2]), text)
    client.save(uri)
    told = await client.until(lambda t: is_judged(t) and states_of(t)["short"] == "proved")
    assert states_of(told) == {"enough": "proved", "short": "proved"}


def applied(text: str, edits: Any) -> str:
    """A text with an editor's edits made."""
    lines = text.splitlines(keepends=True)
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line))

    def offset(at: types.Position) -> int:
        return starts[at.line] + at.character

    for edit in sorted(edits, key=lambda e: offset(e.range.start), reverse=True):
        begin, end = offset(edit.range.start), offset(edit.range.end)
        text = text[:begin] + edit.new_text + text[end:]
    return text


# ---------------------------------------------------------------- names and writing


@pytest.mark.asyncio
async def test_what_is_under_the_pointer_is_told_in_plain_words(client: Client, job: Path) -> None:
    rules, promises = client.open(job / "rules.dusk"), client.open(job / "promises.dusk")

    async def told(uri: str, at: types.Position) -> str:
        hover = await client.text_document_hover_async(types.HoverParams(inside(uri), at))
        assert hover is not None
        assert isinstance(hover.contents, types.MarkupContent)
        return hover.contents.value

    light = await told(rules, position(RULES, "light on"))
    assert "lamp “Light”" in light
    assert "Set by: `lit`" in light
    assert "In requirements: `enough`, `short`" in light
    assert "A duration: 1 min." in await told(rules, position(RULES, "long"))
    assert "dropped" in await told(rules, position(RULES, "non-retriggerable"))
    short = await told(promises, position(PROMISES, "short", 3))
    assert "stale" in short
    assert "counts from the start" in short


@pytest.mark.asyncio
async def test_a_name_leads_to_its_declaration_and_to_all_its_places(
    client: Client, job: Path
) -> None:
    rules = client.open(job / "rules.dusk")
    at = position(RULES, "light off")
    there = await client.text_document_definition_async(types.DefinitionParams(inside(rules), at))
    assert isinstance(there, list | tuple)
    assert [(each.uri, each.range.start.line) for each in there] == [
        ((job / "points.dusk").as_uri(), 1)
    ]
    places = await client.text_document_references_async(
        types.ReferenceParams(types.ReferenceContext(True), inside(rules), at)
    )
    assert places is not None
    files = [each.uri.rpartition("/")[2] for each in places]
    assert sorted(files) == [
        "points.dusk",
        "promises.dusk",
        "promises.dusk",
        "rules.dusk",
        "rules.dusk",
    ]


@pytest.mark.asyncio
async def test_a_name_is_renamed_in_all_files_also_those_that_are_not_open(
    client: Client, job: Path
) -> None:
    rules = client.open(job / "rules.dusk")
    at = position(RULES, "light off")
    edit = await client.text_document_rename_async(types.RenameParams(inside(rules), at, "glow"))
    assert edit is not None
    assert edit.changes is not None
    for uri, edits in edit.changes.items():
        path = job / uri.rpartition("/")[2]
        path.write_text(applied(path.read_text(encoding="utf-8"), edits), encoding="utf-8")
    text = "".join(path.read_text(encoding="utf-8") for path in sorted(job.glob("*.dusk")))
    assert text.count("glow") == 5
    assert " light " not in text
    client.change(rules, (job / "rules.dusk").read_text(encoding="utf-8"))
    client.save(rules)
    told = await client.until(is_judged)
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    with pytest.raises(Exception, match="called push already"):
        await client.text_document_rename_async(types.RenameParams(inside(rules), at, "push"))


@pytest.mark.asyncio
async def test_a_text_is_laid_out_and_what_fits_is_offered(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk", RULES.replace("    light on", " light   on"))
    options = types.FormattingOptions(tab_size=2, insert_spaces=True)
    edits = await client.text_document_formatting_async(
        types.DocumentFormattingParams(inside(rules), options)
    )
    assert edits is not None
    assert applied(RULES.replace("    light on", " light   on"), edits) == RULES
    broken = RULES.replace("    light off\n", "    li\n")
    client.change(rules, broken)
    at = position(broken, "    li\n")
    offered = await client.text_document_completion_async(
        types.CompletionParams(inside(rules), types.Position(at.line, 6))
    )
    assert isinstance(offered, types.CompletionList)
    names = [i.label for i in offered.items if i.kind == types.CompletionItemKind.Variable]
    assert names == ["light"]
    symbols = await client.text_document_document_symbol_async(
        types.DocumentSymbolParams(inside((job / "points.dusk").as_uri()))
    )
    assert symbols is not None
    assert [each.name for each in symbols] == ["push", "light", "long"]


@pytest.mark.asyncio
async def test_a_hint_is_a_quick_fix(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk", RULES.replace("light off", "ligth off"))
    found = await client.findings(rules, lambda f: len(f) == 1)
    context = types.CodeActionContext(found)
    offered = await client.text_document_code_action_async(
        types.CodeActionParams(inside(rules), found[0].range, context)
    )
    assert offered is not None
    first = offered[0]
    assert isinstance(first, types.CodeAction)
    assert first.is_preferred
    assert first.edit is not None
    assert first.edit.changes is not None
    edits = first.edit.changes[rules]
    assert applied(RULES.replace("light off", "ligth off"), edits) == RULES


# ---------------------------------------------------------------- living on


def started_by(client: Client) -> list[int]:
    """The processes that the server has started and that live."""
    assert client._server is not None
    return children_of(client._server.pid)


def children_of(pid: int) -> list[int]:
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [int(each) for each in listed.stdout.split()]


def is_alive(pid: int) -> bool:
    """Whether a process is there, and more than a remnant that nobody has asked after."""
    listed = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    )
    return listed.stdout.strip() != "" and not listed.stdout.strip().startswith("Z")


@pytest.mark.asyncio
async def test_a_proof_that_takes_for_ever_is_cut_short_by_the_next_save(
    client: Client, job: Path
) -> None:
    """A hall of 300 rules takes longer than this test waits; what comes is about the text after it."""
    rules = client.open(job / "rules.dusk")
    hard = client.open(job / "hall" / "rules.dusk", hall(300, 7201))
    client.save(hard)
    await client.until(lambda t: t.running and t.job == "hall")
    client.change(hard, POINTS + RULES + PROMISES)
    client.save(hard)
    told = await client.until(lambda t: is_judged(t) and t.job == "hall")
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    # What one job is at keeps no other waiting.
    client.change(hard, hall(300, 7201))
    client.save(hard)
    await client.until(lambda t: t.running and t.job == "hall")
    client.save(rules)
    told = await client.until(lambda t: is_judged(t) and t.job == "lobby")
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    await client.run("duskproof.stop", hard)
    told = await client.until(lambda t: not t.running and t.job == "hall")
    assert set(states_of(told).values()) == {"stale"}


@pytest.mark.asyncio
async def test_closing_the_last_file_of_a_job_ends_its_process(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk")
    client.save(rules)
    await client.until(is_judged)
    assert len(started_by(client)) == 1
    await client.findings((job / "promises.dusk").as_uri(), lambda f: len(f) == 1)
    closing = types.DidCloseTextDocumentParams(inside(rules))
    client.text_document_did_close(closing)
    await client.findings((job / "promises.dusk").as_uri(), lambda f: not f)
    assert started_by(client) == []


@pytest.mark.asyncio
async def test_five_megabytes_get_a_clear_message(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk")
    client.change(rules, "lamp x # " + "y" * 5_000_000 + "\n")
    found = await client.findings(rules, lambda f: len(f) == 1)
    assert found[0].code == "file-too-large"
    offered = await client.text_document_completion_async(
        types.CompletionParams(inside(rules), types.Position(0, 100_000))
    )
    assert isinstance(offered, types.CompletionList)
    assert not offered.items
    client.change(rules, RULES)
    await client.findings(rules, lambda f: not f)


@pytest.mark.asyncio
async def test_the_process_that_proves_may_die_and_the_next_save_proves_again(
    client: Client, job: Path
) -> None:
    """Killed from outside while it proves: told as trouble, nothing green, and no harm done."""
    rules = client.open(job / "rules.dusk")
    client.save(rules)
    await client.until(is_judged)
    for pid in started_by(client):
        os.kill(pid, signal.SIGKILL)
    client.change(rules, RULES.replace("wait long", "wait 10 s"))
    client.save(rules)
    told = await client.until(lambda t: is_judged(t) and states_of(t)["short"] == "proved")
    assert states_of(told) == {"enough": "failed", "short": "proved"}


@pytest.mark.asyncio
async def test_an_untitled_text_and_a_folder_that_is_gone_are_served(
    client: Client, job: Path
) -> None:
    text = POINTS + RULES + PROMISES
    item = types.TextDocumentItem("untitled:Untitled-1", "duskproof", 1, text)
    client.text_document_did_open(types.DidOpenTextDocumentParams(item))
    client.save("untitled:Untitled-1")
    told = await client.until(is_judged)
    assert states_of(told) == {"enough": "proved", "short": "failed"}
    gone = client.open(job / "nowhere" / "rules.dusk", text)
    client.save(gone)
    told = await client.until(lambda t: is_judged(t) and t.job == "nowhere")
    assert states_of(told) == {"enough": "proved", "short": "failed"}


def touched(client: Client, path: Path, how: types.FileChangeType) -> None:
    """Tells that something on disk has changed."""
    change = types.FileEvent(path.as_uri(), how)
    client.workspace_did_change_watched_files(types.DidChangeWatchedFilesParams([change]))


@pytest.mark.asyncio
async def test_what_was_told_of_a_file_goes_with_the_file(client: Client, job: Path) -> None:
    """Deleted, or never saved and closed: nothing of it stays underlined."""
    wrong = job / "wrong.dusk"
    wrong.write_text("lamp 12\n", encoding="utf-8")
    client.open(job / "rules.dusk")
    await client.findings(wrong.as_uri(), lambda f: len(f) == 1)
    wrong.unlink()
    touched(client, wrong, types.FileChangeType.Deleted)
    await client.findings(wrong.as_uri(), lambda f: not f)
    unsaved = client.open(job / "unsaved.dusk", "lamp 12\n")
    await client.findings(unsaved, lambda f: len(f) == 1)
    client.text_document_did_close(types.DidCloseTextDocumentParams(inside(unsaved)))
    await client.findings(unsaved, lambda f: not f)


@pytest.mark.asyncio
async def test_a_document_is_known_however_its_address_is_written(
    client: Client, tmp_path: Path
) -> None:
    """Editors write `(` and `+` in an address as they are or with `%`: RFC 3986 takes both."""
    folder = tmp_path / "bay (1+2)"
    folder.mkdir()
    (folder / "job.dusk").write_text("lamp 12\n", encoding="utf-8")
    uri = (folder / "job.dusk").as_uri().replace("%28", "(").replace("%2B", "+")
    assert uri != (folder / "job.dusk").as_uri()
    item = types.TextDocumentItem(uri, "duskproof", 1, "lamp 12\n")
    client.text_document_did_open(types.DidOpenTextDocumentParams(item))
    await client.findings(uri, lambda f: len(f) == 1)
    client.text_document_did_close(types.DidCloseTextDocumentParams(inside(uri)))
    await client.findings(uri, lambda f: not f)


@pytest.mark.asyncio
async def test_a_change_in_a_folder_that_nobody_has_open_is_nothing_to_tell(
    client: Client, job: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    other = elsewhere / "job.dusk"
    other.write_text("lamp 12\n", encoding="utf-8")
    rules = client.open(job / "rules.dusk")
    touched(client, other, types.FileChangeType.Changed)
    client.change(rules, "lamp 12\n")
    await client.findings(rules, lambda f: len(f) > 0)
    assert other.as_uri() not in client.diagnostics
    await client.until(lambda told: told.job == "lobby")
    assert {each.job for each in client.told} == {"lobby"}


@pytest.mark.asyncio
async def test_no_story_is_told_of_a_text_that_is_no_longer_there(
    client: Client, job: Path
) -> None:
    """The question is being answered when the text changes."""
    rules = client.open(job / "rules.dusk")
    client.save(rules)
    await client.until(is_judged)
    asked = asyncio.create_task(client.run("duskproof.story", rules, "short"))
    await asyncio.sleep(0)
    client.change(rules, RULES.replace("wait long", "wait 30 s"))
    assert "is not judged as the text is now" in await asked


@pytest.mark.asyncio
async def test_a_file_that_changes_on_disk_leaves_nothing_green(client: Client, job: Path) -> None:
    rules = client.open(job / "rules.dusk")
    client.save(rules)
    await client.until(is_judged)
    points = job / "points.dusk"
    points.write_text(POINTS.replace("1 min", "1 h"), encoding="utf-8")
    touched(client, points, types.FileChangeType.Changed)
    told = await client.until(lambda t: set(states_of(t).values()) == {"stale"})
    assert not told.running


@pytest.mark.skipif(sys.platform == "win32", reason="ends a process by a signal")
def test_the_end_of_the_server_leaves_no_process(tmp_path: Path) -> None:
    """Killed in the middle of a proof, without a word: what it had started ends by itself."""
    (tmp_path / "rules.dusk").write_text(hall(300, 7201), encoding="utf-8")
    document = {"uri": (tmp_path / "rules.dusk").as_uri()}
    text = {"languageId": "duskproof", "version": 1, "text": hall(300, 7201), **document}
    started: list[int] = []
    with subprocess.Popen(
        [sys.executable, "-m", "verifier.front.command", "serve-editor"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        env=ENVIRONMENT,
    ) as server:
        assert server.stdin is not None
        for message in (
            {"id": 1, "method": "initialize", "params": {"processId": None, "capabilities": {}}},
            {"method": "initialized", "params": {}},
            {"method": "textDocument/didOpen", "params": {"textDocument": text}},
            {"method": "textDocument/didSave", "params": {"textDocument": document}},
        ):
            body = json.dumps({"jsonrpc": "2.0", **message}).encode()
            server.stdin.write(b"Content-Length: %d\r\n\r\n%b" % (len(body), body))
        server.stdin.flush()
        assert comes_true(lambda: any(children_of(pid) for pid in children_of(server.pid)))
        started = children_of(server.pid)
        started += [inner for pid in started for inner in children_of(pid)]
        server.kill()
    assert comes_true(lambda: not any(is_alive(pid) for pid in started))


def comes_true(told: Callable[[], bool]) -> bool:
    """Whether something comes to be so."""
    until = time.monotonic() + LONG_S
    while not told():
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return True


@pytest.mark.asyncio
async def test_any_edit_is_answered(client: Client, job: Path) -> None:
    """Good jobs with something done to them, and every question of an editor about each."""
    rng = Random(75)
    uri = client.open(job / "rules.dusk", "")
    for number in range(40):
        text = edited(rng).encode("utf-8", "replace").decode("utf-8")
        client.change(uri, text)
        at = types.Position(rng.randrange(text.count("\n") + 2), rng.randrange(60))
        around = types.Range(at, types.Position(at.line + 3, 0))
        await client.text_document_hover_async(types.HoverParams(inside(uri), at))
        await client.text_document_definition_async(types.DefinitionParams(inside(uri), at))
        await client.text_document_completion_async(types.CompletionParams(inside(uri), at))
        await client.text_document_code_lens_async(types.CodeLensParams(inside(uri)))
        await client.text_document_document_symbol_async(types.DocumentSymbolParams(inside(uri)))
        await client.text_document_formatting_async(
            types.DocumentFormattingParams(inside(uri), types.FormattingOptions(2, True))
        )
        if number % 4 == 0:
            await client.text_document_code_action_async(
                types.CodeActionParams(inside(uri), around, types.CodeActionContext([]))
            )
    assert not [each for each in client.messages if "Error in server" in each.message]
    client.change(uri, RULES)
    await client.findings(uri, lambda f: not f)
