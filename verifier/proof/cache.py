"""Answers that are kept from one run to the next, in one SQLite file.

An answer is found by what was asked: a digest of the obligation's text in canonical names, of the
prover's own source, and of the solvers' versions. Each carries a seal made with a key that
lies outside the cache, in the user's own folder: an answer that was altered, or comes from elsewhere,
is as good as none. Nothing kept is believed beyond that: a run is replayed before it is shown,
certificates can be checked anew, and `undecided` holds only for as much time as it was given.

Whatever is wrong with the file (damaged, locked, read-only, disk full) is told once in
:attr:`Cache.problem`, and work goes on without it.
"""

from __future__ import annotations

import functools
import hashlib
import hmac
import os
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from verifier.proof.chain import Chain
from verifier.proof.stored import NotStored, restored, stored
from verifier.proof.verdict import LimitMet, Undecided, certificate_of

if TYPE_CHECKING:
    from verifier.proof.obligations import Obligation

FILE = "answers.sqlite"
KEY_FILE = "seal.key"
LAYOUT = 1
MOST_BYTES = 1 << 30
"""The size beyond which the oldest answers go."""

LOCKED_S = 2.0
"""How long a write waits for another process."""

_AT_A_TIME = 500

_TABLE = """
CREATE TABLE IF NOT EXISTS answers (
  key TEXT PRIMARY KEY,
  kind TEXT NOT NULL,
  answer BLOB NOT NULL,
  texts BLOB NOT NULL,
  limit_s REAL NOT NULL,
  made INTEGER NOT NULL,
  seal BLOB NOT NULL
) WITHOUT ROWID
"""


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer that was kept; ``own``: by this process."""

    value: Any
    own: bool = False


@dataclass(frozen=True, slots=True)
class Contents:
    """What a cache holds: answers by kind, bytes on disk, and the day of the oldest (universal time)."""

    path: Path
    counts: tuple[tuple[str, int], ...]
    size: int
    oldest: str | None


class Cache:
    """The cache in a folder, which is made where it does not exist."""

    def __init__(self, folder: Path, key_folder: Path) -> None:
        self.path = folder / FILE
        self.problem = ""
        self.replaced = ""
        self.altered = 0
        """Answers whose seal is not ours."""
        self._base: sqlite3.Connection | None = None
        try:
            self._secret = _secret(key_folder)
            folder.mkdir(parents=True, exist_ok=True)
            self._base = self._opened()
        except (OSError, sqlite3.Error) as failure:
            self._give_up(failure)

    def _opened(self) -> sqlite3.Connection:
        try:
            return self._connected()
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            # Damaged: it is put aside, and a new one begun.
            damaged = self.path.with_suffix(".damaged")
            os.replace(self.path, damaged)
            for more in ("-wal", "-shm"):
                with suppress(OSError):
                    os.remove(f"{self.path}{more}")
            self.problem = (
                f"it was damaged, and lies beside it as {damaged.name}; a new one was begun"
            )
            return self._connected()

    def _connected(self) -> sqlite3.Connection:
        base = sqlite3.connect(self.path, timeout=LOCKED_S, isolation_level=None)
        try:
            layout = base.execute("PRAGMA user_version").fetchone()[0]
            base.execute("PRAGMA journal_mode = WAL")
            base.execute("PRAGMA synchronous = NORMAL")
            if layout != LAYOUT:
                base.execute("DROP TABLE IF EXISTS answers")
                base.execute(f"PRAGMA user_version = {LAYOUT}")
            base.execute(_TABLE)
            self._make_room(base)
        except BaseException:
            base.close()
            raise
        return base

    def _make_room(self, base: sqlite3.Connection) -> None:
        """Lets the older half go if the file is too large."""
        if self.path.stat().st_size > MOST_BYTES:
            base.execute(
                "DELETE FROM answers WHERE made <= (SELECT made FROM answers ORDER BY made "
                "LIMIT 1 OFFSET (SELECT COUNT(*) / 2 FROM answers))"
            )
            base.execute("VACUUM")

    def _give_up(self, failure: Exception) -> None:
        self.problem = str(getattr(failure, "strerror", None) or failure)
        self.close()

    @property
    def holds_some(self) -> bool:
        """Whether there is any answer in it."""
        if self._base is None:
            return False
        try:
            return self._base.execute("SELECT 1 FROM answers LIMIT 1").fetchone() is not None
        except sqlite3.Error as failure:
            self._give_up(failure)
            return False

    def said(self) -> str:
        """What is wrong with it, in words; empty if nothing is."""
        if self.problem:
            return f"{self.path}: {self.problem}; work went on without it"
        if self.replaced:
            return f"{self.path} was damaged and is called {self.replaced} now; a new one was begun"
        if self.altered:
            what = "answer was" if self.altered == 1 else "answers were"
            return (
                f"{self.path}: {self.altered} {what} altered or not kept by you, and not believed"
            )
        return ""

    def close(self) -> None:
        """Closes the file."""
        if self._base is not None:
            with suppress(sqlite3.Error):
                self._base.close()
            self._base = None

    # ------------------------------------------------------------ answers

    def answers(
        self, obligations: list[Obligation], limit_s: float, texts: bool
    ) -> Iterator[tuple[Obligation, Kept | None]]:
        """Each obligation with the answer that was kept, if there is one that holds for ``limit_s``.

        ``texts``: certificates come with their texts.
        """
        for begin in range(0, len(obligations), _AT_A_TIME):
            some = obligations[begin : begin + _AT_A_TIME]
            keys = [_whole_key(obligation.key) for obligation in some]
            rows = self._rows(keys)
            for obligation, key in zip(some, keys, strict=True):
                row = rows.get(key)
                yield obligation, None if row is None else self._kept(row, limit_s, texts)

    def _rows(self, keys: list[str]) -> dict[str, _Row]:
        if self._base is None:
            return {}
        marks = ",".join("?" * len(keys))
        asked = (
            f"SELECT key, kind, answer, texts, limit_s, seal FROM answers WHERE key IN ({marks})"
        )
        try:
            return {row[0]: row for row in self._base.execute(asked, keys)}
        except sqlite3.Error as failure:
            self._give_up(failure)
            return {}

    def _kept(self, row: _Row, limit_s: float, texts: bool) -> Kept | None:
        key, kind, answer, text, given_s, seal = row
        own = self._seal(key, kind, answer, text, given_s)
        if not hmac.compare_digest(seal, own):
            self.altered += 1
            return None
        try:
            value = restored(answer)
            if texts:
                value = _with_texts(value, restored(text))
        except NotStored:
            self.altered += 1
            return None
        if _needs_time(value) and given_s < limit_s:
            return None
        return Kept(value)

    def keep(self, obligation: Obligation, value: Any, limit_s: float) -> None:
        """Keeps an answer, at once and for good; an endless chain is not worth it."""
        if self._base is None or isinstance(value, Chain):
            return
        certificate = certificate_of(value)
        texts = () if certificate is None else certificate.texts
        key, kind = _whole_key(obligation.key), obligation.kind
        answer, text = stored(_with_texts(value, ())), stored(texts)
        seal = self._seal(key, kind, answer, text, limit_s)
        # The day is the file's own affair: no limit and no answer hangs on it.
        row = (key, kind, answer, text, limit_s, seal)
        try:
            self._base.execute(
                "INSERT OR REPLACE INTO answers "
                "VALUES (?, ?, ?, ?, ?, CAST(strftime('%s', 'now') AS INTEGER), ?)",
                row,
            )
        except sqlite3.Error as failure:
            self._give_up(failure)

    def drop(self, obligation: Obligation) -> None:
        """Forgets an answer that did not pass its check."""
        if self._base is not None:
            with suppress(sqlite3.Error):
                key = _whole_key(obligation.key)
                self._base.execute("DELETE FROM answers WHERE key = ?", (key,))

    def _seal(self, key: str, kind: str, answer: bytes, texts: bytes, limit_s: float) -> bytes:
        parts = (key.encode(), kind.encode(), answer, texts, repr(float(limit_s)).encode())
        message = b"".join(hashlib.sha256(part).digest() for part in parts)
        return hmac.digest(self._secret, message, "sha256")

    # ------------------------------------------------------------ the whole

    def contents(self) -> Contents:
        """What it holds."""
        counts: list[tuple[str, int]] = []
        oldest = None
        if self._base is not None:
            try:
                asked = "SELECT kind, COUNT(*) FROM answers GROUP BY kind ORDER BY kind"
                counts = list(self._base.execute(asked))
                oldest = self._base.execute(
                    "SELECT date(MIN(made), 'unixepoch') FROM answers"
                ).fetchone()[0]
            except sqlite3.Error as failure:
                self._give_up(failure)
        files = [Path(f"{self.path}{end}") for end in ("", "-wal", "-shm")]
        size = sum(file.stat().st_size for file in files if file.exists())
        return Contents(self.path, tuple(counts), size, oldest)

    def clear(self) -> int:
        """Forgets all; how many answers that were."""
        if self._base is None:
            return 0
        try:
            count = int(self._base.execute("SELECT COUNT(*) FROM answers").fetchone()[0])
            self._base.execute("DELETE FROM answers")
            self._base.execute("VACUUM")
        except sqlite3.Error as failure:
            self._give_up(failure)
            return 0
        return count


class Memory:
    """Answers that are kept as long as the process lives, before those of a cache on disk (if any).

    They are this process's own, so nothing of them is checked again.
    """

    def __init__(self, beneath: Cache | None = None) -> None:
        self.beneath = beneath
        self._known: dict[str, tuple[Any, float]] = {}

    def answers(
        self, obligations: list[Obligation], limit_s: float, texts: bool
    ) -> Iterator[tuple[Obligation, Kept | None]]:
        """As of a cache; what comes from the disk stays in memory."""
        missing: list[Obligation] = []
        for obligation in obligations:
            known = self._known.get(obligation.key)
            if known is None or (_needs_time(known[0]) and known[1] < limit_s):
                missing.append(obligation)
            else:
                yield obligation, Kept(known[0], own=True)
        if self.beneath is None:
            yield from ((obligation, None) for obligation in missing)
            return
        for obligation, kept in self.beneath.answers(missing, limit_s, texts=True):
            if kept is not None:
                self._known[obligation.key] = (kept.value, limit_s)
            yield obligation, kept

    def keep(self, obligation: Obligation, value: Any, limit_s: float) -> None:
        """Keeps an answer, on disk too."""
        if not isinstance(value, Chain):
            self._known[obligation.key] = (value, limit_s)
        if self.beneath is not None:
            self.beneath.keep(obligation, value, limit_s)

    def drop(self, obligation: Obligation) -> None:
        """Forgets an answer that did not pass its check, on disk too."""
        self._known.pop(obligation.key, None)
        if self.beneath is not None:
            self.beneath.drop(obligation)


_Row = tuple[str, str, bytes, bytes, float, bytes]


def _needs_time(value: Any) -> bool:
    """Whether an answer could be another one with more time."""
    return isinstance(value, Undecided | LimitMet)


def _with_texts(value: Any, texts: tuple[tuple[str, str], ...]) -> Any:
    certificate = certificate_of(value)
    if certificate is None:
        return value
    return replace(value, certificate=replace(certificate, texts=texts))


@functools.cache
def prover() -> str:
    """A digest of the prover's own source and of the solvers' versions."""
    from verifier.proof.solvers import solver_versions

    digest = hashlib.sha256(repr(solver_versions()).encode())
    root = Path(__file__).resolve().parent.parent
    for package in ("source", "model", "surroundings", "graph", "simulate", "proof"):
        for file in sorted((root / package).glob("*.py")):
            digest.update(f"{package}/{file.name}".encode())
            digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def _whole_key(key: str) -> str:
    return hashlib.sha256(f"{key} {prover()}".encode()).hexdigest()


def _secret(folder: Path) -> bytes:
    """The user's own key; made where there is none. Raises: OSError."""
    path = folder / KEY_FILE
    with suppress(FileNotFoundError):
        found = path.read_bytes()
        if len(found) == 32:
            return found
    folder.mkdir(parents=True, exist_ok=True)
    made = os.urandom(32)
    part = folder / f"{KEY_FILE}.{os.getpid()}"
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(made)
    os.replace(part, path)
    return path.read_bytes()
