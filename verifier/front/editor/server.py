"""The language server: what an editor asks, answered from the open jobs.

Reading and checking follow each key stroke; proofs run in another process, begin when a file is
saved, and are cut short by the next save. Everything here happens in one thread but reading, which
may take its time with a large job.
"""

from __future__ import annotations

import asyncio
import contextlib
import tempfile
from pathlib import Path
from typing import Any

from lsprotocol import types
from pygls.exceptions import JsonRpcInvalidParams
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

from verifier import __version__
from verifier.diagnostics import Diagnostic
from verifier.front.editor import lenses
from verifier.front.editor.completion import Offer, offers_at
from verifier.front.editor.fixes import fixes
from verifier.front.editor.hover import WORDS, hover_of
from verifier.front.editor.jobs import Known, OpenJob, Reading
from verifier.front.editor.judge import Judge
from verifier.front.editor.places import (
    SOURCE,
    finding_of,
    offset_of,
    range_of,
    whole_range,
)
from verifier.front.editor.renaming import Refused, rename
from verifier.language.library import library_path
from verifier.model.mentions import Declared, Mention, Mentions
from verifier.source import SourceFile, Sources, Span

STATES = "duskproof/states"
"""The notification that tells the state of each requirement, for editors that show them beside."""

PROVE, STORY, MEND, STOP = "duskproof.prove", "duskproof.story", "duskproof.mend", "duskproof.stop"

_SORTS = {
    "word": types.CompletionItemKind.Keyword,
    "name": types.CompletionItemKind.Variable,
    "value": types.CompletionItemKind.EnumMember,
    "figure": types.CompletionItemKind.Unit,
    "block": types.CompletionItemKind.Snippet,
}
_ORDER = {"name": "1", "value": "0", "figure": "2", "word": "3", "block": "4"}

_SYMBOLS = {
    "rule": types.SymbolKind.Function,
    "requirement": types.SymbolKind.Property,
    "standard requirement": types.SymbolKind.Interface,
    "typical": types.SymbolKind.Class,
    "setting": types.SymbolKind.Constant,
    "place": types.SymbolKind.Object,
    "door": types.SymbolKind.Object,
    "room": types.SymbolKind.Object,
}


class DuskServer(LanguageServer):
    """The server and the jobs that are open in it."""

    def __init__(self, limit_s: float = 60.0, mend_s: float = 12.0) -> None:
        super().__init__(
            "duskproof", __version__, text_document_sync_kind=types.TextDocumentSyncKind.Full
        )
        self.limit_s, self.mend_s = limit_s, mend_s
        self.jobs: dict[str, OpenJob] = {}
        self.uris: dict[str, tuple[OpenJob, str]] = {}
        self._judges: dict[str, Judge] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._due: dict[str, asyncio.Task[None]] = {}
        self._told: dict[str, dict[str, list[types.Diagnostic]]] = {}
        """Of each job, what was told of each of its documents."""
        self._stories: tempfile.TemporaryDirectory[str] | None = None

    # ------------------------------------------------------------ jobs and files

    def place_of(self, uri: str) -> tuple[OpenJob, str]:
        """The job of a document, and its file's name in it."""
        known = self.uris.get(uri)
        if known is not None:
            return known
        path = to_fs_path(uri) if uri.startswith("file:") else None
        if path is None:
            job = self.jobs.setdefault(uri, OpenJob(None, "untitled"))
            found = (job, "untitled.dusk")
        else:
            folder = Path(path).parent
            key = str(folder)
            name = folder.resolve().name
            found = (self.jobs.setdefault(key, OpenJob(folder, name)), Path(path).name)
        self.uris[uri] = found
        return found

    def open_job_of(self, uri: str) -> OpenJob | None:
        """The job that a document belongs to, if something of it is open."""
        path = to_fs_path(uri) if uri.startswith("file:") else None
        return self.jobs.get(uri if path is None else str(Path(path).parent))

    def uri_of(self, job: OpenJob, name: str) -> str:
        """The document of a file of a job: the one that is open, else that on disk."""
        for uri, (owner, known) in self.uris.items():
            if owner is job and known == name:
                return uri
        if name.startswith("standard/"):
            return from_fs_path(str(library_path(name))) or ""
        assert job.folder is not None
        return from_fs_path(str(job.folder / name)) or ""

    def file_at(self, uri: str) -> tuple[OpenJob, Reading, SourceFile] | None:
        """The job of a document as it is now, and the document's text."""
        job, name = self.place_of(uri)
        reading = job.read()
        file = reading.sources.by_name.get(name)
        return None if file is None else (job, reading, file)

    def mention_at(
        self, uri: str, position: types.Position
    ) -> tuple[OpenJob, Reading, Mentions, Mention] | None:
        """The name at a place of a document."""
        found = self.file_at(uri)
        if found is None:
            return None
        job, reading, file = found
        mentions = reading.mentions
        mention = mentions.at(file.name, offset_of(file, position))
        return None if mention is None else (job, reading, mentions, mention)

    def location(self, job: OpenJob, reading: Reading, span: Span) -> types.Location | None:
        """A span as a place in a document."""
        file = reading.sources.by_name.get(span.file)
        if file is None and span.file.startswith("standard/"):
            text = library_path(span.file).read_text(encoding="utf-8")
            file = SourceFile(span.file, text)
        if file is None:
            return None
        return types.Location(self.uri_of(job, span.file), range_of(file, span))

    # ------------------------------------------------------------ reading

    def begin(self, work: Any) -> asyncio.Task[None]:
        """Has something done beside what is being asked."""
        task: asyncio.Task[None] = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    def changed(self, job: OpenJob) -> None:
        """A text of the job has changed: it is read, and what is shown with it."""
        key = self.key_of(job)
        due = self._due.get(key)
        if due is not None and not due.done():
            due.cancel()
        self._due[key] = self.begin(self._read_and_show(job))

    def key_of(self, job: OpenJob) -> str:
        """The key of a job among those that are open."""
        return next(key for key, each in self.jobs.items() if each is job)

    def is_open(self, job: OpenJob) -> bool:
        """Whether a job is still open."""
        return any(each is job for each in self.jobs.values())

    async def _read_and_show(self, job: OpenJob) -> None:
        await asyncio.sleep(0)  # several changes at once are read once
        await asyncio.to_thread(job.read)
        self.show(job)

    def show(self, job: OpenJob) -> None:
        """Tells the editor what is to be shown of a job."""
        if not self.is_open(job):
            return
        reading = job.reading
        states = job.states()
        uris = {name: self.uri_of(job, name) for name in reading.sources.by_name}
        found: dict[str, list[types.Diagnostic]] = {uri: [] for uri in uris.values()}
        for finding in (*reading.findings, *job.found_by_proof()):
            self._add(found, finding, reading, uris)
        for diagnostic, name in lenses.failing(job, reading, states, uris):
            found[uris[name]].append(diagnostic)
        self._tell(self.key_of(job), found)
        self.protocol.notify(STATES, _states(self.key_of(job), job, states))
        workspace = self.client_capabilities.workspace
        lens = None if workspace is None else workspace.code_lens
        if lens is not None and lens.refresh_support:
            self.workspace_code_lens_refresh(None)

    def _tell(self, key: str, found: dict[str, list[types.Diagnostic]]) -> None:
        """Tells what is found in a job's documents; of those that are no longer in it, nothing."""
        told = self._told.pop(key, {})
        for uri in (*found, *(uri for uri in told if uri not in found)):
            diagnostics = found.get(uri, [])
            if diagnostics != told.get(uri, []):
                self.text_document_publish_diagnostics(
                    types.PublishDiagnosticsParams(uri, diagnostics)
                )
        if found:
            self._told[key] = found

    def _add(
        self,
        found: dict[str, list[types.Diagnostic]],
        finding: Diagnostic,
        reading: Reading,
        uris: dict[str, str],
    ) -> None:
        name = finding.labels[0].span.file if finding.labels else ""
        file = reading.sources.by_name.get(name)
        if file is None and reading.sources.files:
            # What has no place in the job's text is told at its first line.
            file = reading.sources.files[0]
            finding = Diagnostic(finding.code, finding.severity, finding.message, (), finding.hint)
        if file is None:
            return
        found[uris[file.name]].append(finding_of(finding, file, reading.sources, uris))

    # ------------------------------------------------------------ proofs

    def judge_of(self, job: OpenJob) -> Judge:
        """The process that proves a job's requirements."""
        key = self.key_of(job)
        if key not in self._judges:

            def heard(message: dict[str, Any]) -> None:
                if job.heard(message):
                    self.show(job)
                if message["kind"] == "fault":
                    words = f"The proofs came to no end: {message['words']}. Save to try again."
                    say = types.ShowMessageParams(types.MessageType.Error, words)
                    self.window_show_message(say)

            self._judges[key] = Judge(heard)
        return self._judges[key]

    async def prove(self, job: OpenJob) -> None:
        """Has the job judged as it is now; what is being proved of an older text is cut short."""
        reading = await asyncio.to_thread(job.read)
        if not self.is_open(job):
            return
        judge = self.judge_of(job)
        if reading.job is None or not reading.job.requirements:
            await judge.stop()
            job.stopped()
        elif not job.is_judged():
            files = {file.name: file.text for file in reading.sources.files}
            number = judge.number()
            job.begin(number, reading)
            self.show(job)
            await judge.judge(number, job.name, files, self.limit_s)
            return
        self.show(job)

    async def forget(self, job: OpenJob) -> None:
        """Nothing of the job is open any more: its proofs are ended, its findings taken back."""
        key = self.key_of(job)
        due = self._due.pop(key, None)
        if due is not None:
            due.cancel()
        judge = self._judges.pop(key, None)
        if judge is not None:
            await judge.close()
        del self.jobs[key]
        for uri in [uri for uri, (owner, _) in self.uris.items() if owner is job]:
            del self.uris[uri]
        self._tell(key, {})

    async def close(self) -> None:
        """Ends all processes, and takes away what was written to be shown."""
        for judge in self._judges.values():
            await judge.close()
        self._judges.clear()
        if self._stories is not None:
            self._stories.cleanup()
            self._stories = None

    def story_file(self, name: str, text: str) -> str:
        """The document of a text that is to be shown."""
        if self._stories is None:
            self._stories = tempfile.TemporaryDirectory(prefix="duskproof-")
        path = Path(self._stories.name) / f"{name}.txt"
        path.write_text(text, encoding="utf-8")
        return from_fs_path(str(path)) or ""


def _states(key: str, job: OpenJob, states: tuple[Known, ...]) -> dict[str, Any]:
    return {
        "job": job.name,
        "folder": key,
        "running": job.is_running,
        "trouble": job.trouble,
        "requirements": [
            {
                "name": each.name,
                "state": each.state,
                "vacuous": each.vacuous,
                "reason": each.told["reason"] if each.told is not None else "",
            }
            for each in states
        ],
    }


def server(limit_s: float = 60.0, mend_s: float = 12.0) -> DuskServer:
    """A server with all that it can do."""
    made = DuskServer(limit_s, mend_s)
    _documents(made)
    _names(made)
    _writing(made)
    _proofs(made)
    return made


# ---------------------------------------------------------------- documents


def _documents(ls: DuskServer) -> None:
    @ls.feature(types.TEXT_DOCUMENT_DID_OPEN)
    async def opened(params: types.DidOpenTextDocumentParams) -> None:
        job, name = ls.place_of(params.text_document.uri)
        job.put(name, params.text_document.text)
        ls.changed(job)

    @ls.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    async def changed(params: types.DidChangeTextDocumentParams) -> None:
        job, name = ls.place_of(params.text_document.uri)
        for change in params.content_changes:
            job.put(name, change.text)
        ls.changed(job)

    @ls.feature(types.TEXT_DOCUMENT_DID_SAVE)
    async def saved(params: types.DidSaveTextDocumentParams) -> None:
        job, _ = ls.place_of(params.text_document.uri)
        ls.begin(ls.prove(job))

    @ls.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    async def closed(params: types.DidCloseTextDocumentParams) -> None:
        job, name = ls.place_of(params.text_document.uri)
        job.drop(name)
        if job.open:
            ls.changed(job)
        else:
            await ls.forget(job)

    @ls.feature(types.WORKSPACE_DID_CHANGE_WATCHED_FILES)
    async def changed_on_disk(params: types.DidChangeWatchedFilesParams) -> None:
        touched = {id(job): job for job in (ls.open_job_of(each.uri) for each in params.changes)}
        for job in touched.values():
            if job is not None:
                ls.changed(job)

    @ls.feature(types.SHUTDOWN)
    async def shut_down(_: None) -> None:
        await ls.close()


# ---------------------------------------------------------------- names


def _names(ls: DuskServer) -> None:
    @ls.feature(types.TEXT_DOCUMENT_HOVER)
    def hover(params: types.HoverParams) -> types.Hover | None:
        uri, position = params.text_document.uri, params.position
        found = ls.mention_at(uri, position)
        if found is not None:
            job, reading, mentions, mention = found
            file = reading.sources.by_name[mention.span.file]
            text = hover_of(mention, mentions, reading, job.states())
            return types.Hover(_markdown(text), range_of(file, mention.span))
        at = ls.file_at(uri)
        if at is None:
            return None
        word, span = _word(at[2], offset_of(at[2], position))
        if word not in WORDS:
            return None
        return types.Hover(_markdown(f"`{word}`: {WORDS[word]}"), range_of(at[2], span))

    @ls.feature(types.TEXT_DOCUMENT_DEFINITION)
    def definition(params: types.DefinitionParams) -> list[types.Location]:
        found = ls.mention_at(params.text_document.uri, params.position)
        if found is None:
            return []
        job, reading, mentions, mention = found
        places = [each for symbol in mention.symbols for each in mentions.declared[symbol]]
        return _locations(ls, job, reading, [each.span for each in places])

    @ls.feature(types.TEXT_DOCUMENT_REFERENCES)
    def references(params: types.ReferenceParams) -> list[types.Location]:
        found = ls.mention_at(params.text_document.uri, params.position)
        if found is None:
            return []
        job, reading, mentions, mention = found
        spans = [
            each.span
            for each in mentions.all
            if set(each.symbols) & set(mention.symbols)
            and (params.context.include_declaration or not each.declares)
        ]
        return _locations(ls, job, reading, list(dict.fromkeys(spans)))

    @ls.feature(types.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT)
    def highlight(params: types.DocumentHighlightParams) -> list[types.DocumentHighlight]:
        found = ls.mention_at(params.text_document.uri, params.position)
        if found is None:
            return []
        _, reading, mentions, mention = found
        file = reading.sources.by_name[mention.span.file]
        return [
            types.DocumentHighlight(range_of(file, each.span))
            for each in mentions.all
            if each.span.file == file.name and set(each.symbols) & set(mention.symbols)
        ]

    @ls.feature(types.TEXT_DOCUMENT_PREPARE_RENAME)
    def prepare(params: types.PrepareRenameParams) -> types.Range | None:
        found = ls.mention_at(params.text_document.uri, params.position)
        if found is None:
            return None
        _, reading, _, mention = found
        return range_of(reading.sources.by_name[mention.span.file], mention.span)

    @ls.feature(types.TEXT_DOCUMENT_RENAME, types.RenameOptions(prepare_provider=True))
    def renamed(params: types.RenameParams) -> types.WorkspaceEdit | None:
        found = ls.mention_at(params.text_document.uri, params.position)
        if found is None:
            return None
        job, reading, mentions, mention = found
        edits = rename(reading.sources, mentions, mention, params.new_name)
        if isinstance(edits, Refused):
            raise JsonRpcInvalidParams(message=edits.words)
        changes: dict[str, list[types.TextEdit]] = {}
        for edit in edits:
            file = reading.sources.by_name[edit.span.file]
            uri = ls.uri_of(job, file.name)
            changes.setdefault(uri, []).append(types.TextEdit(range_of(file, edit.span), edit.text))
        return types.WorkspaceEdit(changes)

    @ls.feature(types.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
    def symbols(params: types.DocumentSymbolParams) -> list[types.DocumentSymbol]:
        found = ls.file_at(params.text_document.uri)
        if found is None:
            return []
        _, reading, file = found
        declared = [
            each
            for places in reading.mentions.declared.values()
            for each in places
            if each.span.file == file.name and each.symbol.group not in ("parameter", "place")
        ]
        inner: dict[str, list[types.DocumentSymbol]] = {}
        top: list[types.DocumentSymbol] = []
        for each in sorted(declared, key=lambda one: one.span.start):
            symbol = _document_symbol(each, file)
            if each.symbol.group == "typical":
                symbol.children = inner.setdefault(each.symbol.name, [])
            inside = each.symbol.inside
            (inner.setdefault(inside, []) if inside else top).append(symbol)
        return top


def _markdown(text: str) -> types.MarkupContent:
    return types.MarkupContent(types.MarkupKind.Markdown, text)


def _word(file: SourceFile, offset: int) -> tuple[str, Span]:
    """The word around an offset, hyphens included."""

    def inside(letter: str) -> bool:
        return letter.isalnum() or letter in "_-"

    start = end = offset
    while start > 0 and inside(file.text[start - 1]):
        start -= 1
    while end < len(file.text) and inside(file.text[end]):
        end += 1
    return file.text[start:end], Span(file.name, start, end)


def _locations(
    ls: DuskServer, job: OpenJob, reading: Reading, spans: list[Span]
) -> list[types.Location]:
    found = (ls.location(job, reading, span) for span in spans)
    return [each for each in found if each is not None]


def _document_symbol(each: Declared, file: SourceFile) -> types.DocumentSymbol:
    whole, named = range_of(file, each.whole), range_of(file, each.span)
    kind = _SYMBOLS.get(each.kind, types.SymbolKind.Variable)
    return types.DocumentSymbol(
        each.symbol.name, kind, whole, named, detail=each.label or each.kind
    )


# ---------------------------------------------------------------- writing


def _writing(ls: DuskServer) -> None:
    @ls.feature(
        types.TEXT_DOCUMENT_COMPLETION, types.CompletionOptions(trigger_characters=[".", " "])
    )
    def completion(params: types.CompletionParams) -> types.CompletionList:
        found = ls.file_at(params.text_document.uri)
        if found is None:
            return types.CompletionList(False, [])
        _, reading, file = found
        offset = offset_of(file, params.position)
        offers = offers_at(file.text[:offset], reading.mentions)
        start = range_of(file, Span(file.name, offset - offers.length, offset))
        snippets = _takes_snippets(ls.client_capabilities)
        items = [_item(each, start) for each in offers.offers if each.sort != "block" or snippets]
        return types.CompletionList(False, items)

    @ls.feature(types.TEXT_DOCUMENT_FORMATTING)
    def formatting(params: types.DocumentFormattingParams) -> list[types.TextEdit]:
        from verifier.language.layout import format_text

        found = ls.file_at(params.text_document.uri)
        if found is None:
            return []
        _, _, file = found
        text, problems = format_text(file)
        if problems or text == file.text:
            return []
        return [types.TextEdit(whole_range(file), text)]

    @ls.feature(
        types.TEXT_DOCUMENT_CODE_ACTION,
        types.CodeActionOptions(code_action_kinds=[types.CodeActionKind.QuickFix]),
    )
    async def actions(params: types.CodeActionParams) -> list[types.CodeAction]:
        found = ls.file_at(params.text_document.uri)
        if found is None:
            return []
        job, reading, file = found
        begin, end = (offset_of(file, at) for at in (params.range.start, params.range.end))
        offered: list[types.CodeAction] = []
        for finding in reading.findings:
            span = finding.labels[0].span
            if span.file == file.name and span.start <= end and span.end >= begin:
                offered.extend(await asyncio.to_thread(_corrections, ls, job, reading, finding))
        offered.extend(lenses.mending(job, reading, file, begin, end, ls.uri_of))
        return offered


def _corrections(
    ls: DuskServer, job: OpenJob, reading: Reading, finding: Diagnostic
) -> list[types.CodeAction]:
    offered = []
    uris = {name: ls.uri_of(job, name) for name in reading.sources.by_name}
    for number, fix in enumerate(fixes(reading.sources, job.name, finding)):
        file = reading.sources.by_name[fix.edit.span.file]
        edit = types.TextEdit(range_of(file, fix.edit.span), fix.edit.text)
        offered.append(
            types.CodeAction(
                fix.words,
                kind=types.CodeActionKind.QuickFix,
                diagnostics=[finding_of(finding, file, reading.sources, uris)],
                is_preferred=number == 0,
                edit=types.WorkspaceEdit({uris[file.name]: [edit]}),
            )
        )
    return offered


def _takes_snippets(capabilities: types.ClientCapabilities) -> bool:
    document = capabilities.text_document
    if document is None or document.completion is None:
        return False
    item = document.completion.completion_item
    return item is not None and bool(item.snippet_support)


def _item(offer: Offer, place: types.Range) -> types.CompletionItem:
    text = offer.block if offer.sort == "block" else offer.text
    return types.CompletionItem(
        f"{offer.text} …" if offer.sort == "block" else offer.text,
        kind=_SORTS[offer.sort],
        detail=offer.about or None,
        documentation=WORDS.get(offer.text) if offer.sort == "word" else None,
        sort_text=_ORDER[offer.sort] + offer.text,
        filter_text=offer.text,
        insert_text_format=types.InsertTextFormat.Snippet if offer.sort == "block" else None,
        text_edit=types.TextEdit(place, text),
    )


# ---------------------------------------------------------------- proofs


def _proofs(ls: DuskServer) -> None:
    @ls.feature(types.TEXT_DOCUMENT_CODE_LENS)
    def code_lens(params: types.CodeLensParams) -> list[types.CodeLens]:
        found = ls.file_at(params.text_document.uri)
        if found is None:
            return []
        job, reading, file = found
        return lenses.lenses(job, reading, file, params.text_document.uri)

    @ls.command(PROVE)
    async def prove(uri: str) -> None:
        """Has the job of a document judged."""
        ls.begin(ls.prove(ls.place_of(uri)[0]))

    @ls.command(STOP)
    async def stop(uri: str) -> None:
        """Cuts short what is being proved of the job of a document."""
        job, _ = ls.place_of(uri)
        await ls.judge_of(job).stop()
        job.stopped()
        ls.show(job)

    @ls.command(STORY)
    async def story(uri: str, name: str) -> str:
        """The story of a requirement that fails, or the proof of one that holds, as text."""
        job, _ = ls.place_of(uri)
        not_judged = f"{name} is not judged as the text is now: save first."
        if not job.is_judged_as_it_is:
            return _say(ls, not_judged)
        sources = job.reading.sources
        answer = await ls.judge_of(job).ask({"kind": "story", "name": name})
        if not _still_judges(job, sources):
            return _say(ls, not_judged)
        text = "" if answer is None else str(answer.get("text", answer.get("words", "")))
        if not text:
            return _say(ls, f"There is nothing to tell of {name}.")
        window = ls.client_capabilities.window
        if window is not None and window.show_document is not None and window.show_document.support:
            ls.window_show_document(types.ShowDocumentParams(ls.story_file(name, text)))
        return text

    @ls.command(MEND)
    async def mend(uri: str, name: str) -> int:
        """How many changes of the rules were found, and proved, that put a requirement right."""
        job, _ = ls.place_of(uri)
        if not job.is_judged_as_it_is:
            _say(ls, f"{name} is not judged as the text is now: save first.")
            return 0
        sources = job.reading.sources
        async with _working(ls, f"Looking for changes that put {name} right"):
            order = {"kind": "mend", "name": name, "limit_s": ls.mend_s}
            answer = await ls.judge_of(job).ask(order)
        if answer is None or "mends" not in answer or job.reading.sources != sources:
            return 0
        job.mends[name] = answer["mends"]
        count = len(answer["mends"])
        if count == 0:
            _say(ls, f"No change was found that puts {name} right.")
        else:
            some = "1 change" if count == 1 else f"{count} changes"
            _say(
                ls,
                f"{some} found that put {name} right: they are among the quick fixes of its line.",
            )
        return count


def _still_judges(job: OpenJob, sources: Sources) -> bool:
    """Whether what is known of a job is known of these texts, and they are there still."""
    return job.is_judged_as_it_is and job.reading.sources == sources


def _say(ls: DuskServer, words: str) -> str:
    ls.window_show_message(types.ShowMessageParams(types.MessageType.Info, words))
    return words


@contextlib.asynccontextmanager
async def _working(ls: DuskServer, words: str) -> Any:
    """Shows, where the editor can, that something takes its time."""
    window = ls.client_capabilities.window
    if window is None or not window.work_done_progress:
        yield
        return
    token = f"{SOURCE}-{id(words)}"
    await ls.work_done_progress.create_async(token)
    ls.work_done_progress.begin(token, types.WorkDoneProgressBegin(words))
    try:
        yield
    finally:
        ls.work_done_progress.end(token, types.WorkDoneProgressEnd())
