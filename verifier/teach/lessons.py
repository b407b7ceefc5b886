"""Lessons read from their files: head, text, questions, challenge, with what is wrong in them.

A lesson is a folder. ``lesson.md`` begins with a head (``title:``, ``minutes:``, ``aims:``, and
``verdicts:`` of its own requirements), an empty line, and the text. In the text a fenced part
``question`` is a question, ``challenge`` the challenge, ``form`` a requirement form that is read
back, ``job`` shows a job's files (a question about a further job shows it by itself).

The ``.dusk`` files beside it are the lesson's job; a folder inside with ``.dusk`` files is a further
job, named by ``job:``. What a challenge is graded by lies in ``challenge.packed``, or plain in the
folder ``challenge``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.model import check
from verifier.model.figures import Quantity
from verifier.model.job import Job, PointKind
from verifier.model.words import duration
from verifier.simulate.script import parse_script
from verifier.simulate.script_play import CannotPlay, play
from verifier.source import SourceFile, Sources, Span
from verifier.teach.answers import NotUnderstood, read_figure, read_lane, read_word, seconds_of
from verifier.teach.hidden import NotPacked, hidden_of, unpacked
from verifier.teach.lesson import (
    Asked,
    Block,
    Challenge,
    Challenged,
    Choose,
    Claim,
    Figure,
    FormShown,
    Heading,
    Items,
    Lane,
    Lesson,
    LessonJob,
    Listing,
    Outline,
    Predict,
    Prose,
    Question,
    Word,
)
from verifier.teach.lines import Field, Line, fields_of, lines_of

TEXT = "lesson.md"
PACKED = "challenge.packed"
PLAIN = "challenge"

HEAD = ("title", "minutes", "aims", "optional", "verdicts")
_FENCE = re.compile(r"(`{3,})([a-z]*)\s*")
_NUMBERED = re.compile(r"\d+\. +(.*)")
_OPTION = re.compile(r"\(( |x)\) *(\S.*)")
_CLAIM = re.compile(
    r"(proved|refuted|vacuous|answered(?: (?P<bound>[^:]*?\S))?) *: *(?P<form>\S.*)"
)
_FIELDS: dict[str, tuple[str, ...]] = {
    "predict": ("kind", "ask", "job", "thing", "script", "key", "why"),
    "word": ("kind", "ask", "job", "key", "why", "claims"),
    "figure": ("kind", "ask", "job", "key", "why", "claims"),
    "choose": ("kind", "ask", "job", "options", "why", "claims"),
}
_NEEDED: dict[str, tuple[str, ...]] = {
    "predict": ("ask", "thing", "script", "why"),
    "word": ("ask", "key", "why"),
    "figure": ("ask", "key", "why"),
    "choose": ("ask", "options", "why"),
}


def read_outline(name: str, file: SourceFile) -> tuple[Outline | None, tuple[Diagnostic, ...]]:
    """The head of a lesson alone, or what is wrong with it."""
    reader = _Reader(name, {TEXT: file})
    outline, _ = reader.head()
    return (None, tuple(reader.found)) if reader.found else (outline, ())


def read_lesson(
    name: str, files: Mapping[str, SourceFile]
) -> tuple[Lesson | None, tuple[Diagnostic, ...]]:
    """The lesson of a folder's files (by their paths in it, ``/`` between), or what is wrong.

    Warnings of its jobs are left out: a lesson may be about them.
    """
    if TEXT not in files:
        span = Span(name, 0, 0)
        hint = f"Write `{TEXT}`: a head with title, minutes and aims, an empty line, the text."
        return None, (_error("lesson-files", f"the lesson has no `{TEXT}`", span, hint),)
    return _Reader(name, files).read()


def _error(code: str, message: str, span: Span, hint: str) -> Diagnostic:
    return Diagnostic(code, Severity.ERROR, message, (Label(span),), hint)


class _Reader:
    def __init__(self, name: str, files: Mapping[str, SourceFile]) -> None:
        self.name = name
        self.files = files
        self.text = files[TEXT]
        self.found: list[Diagnostic] = []
        self.jobs: dict[str, LessonJob] = {}
        self.questions: list[Question] = []
        self.challenge: Challenge | None = None
        self.challenged: Span | None = None

    def wrong(self, code: str, message: str, span: Span, hint: str) -> None:
        self.found.append(_error(code, message, span, hint))

    def read(self) -> tuple[Lesson | None, tuple[Diagnostic, ...]]:
        outline, rest = self.head()
        self._jobs()
        blocks = self._blocks(rest)
        has_files = PACKED in self.files or any(p.startswith(f"{PLAIN}/") for p in self.files)
        if self.challenged is None and has_files:
            self.wrong("lesson-challenge", "the lesson's text has no challenge, but its files do",
                       Span(self.text.name, 0, 0), "Write a part that begins with ```challenge.")  # fmt: skip
        if self.found or outline is None:
            return None, tuple(self.found)
        sources = Sources(tuple(self.files[path] for path in sorted(self.files)))
        jobs = tuple(self.jobs.values())
        return Lesson(outline, blocks, tuple(self.questions), self.challenge, jobs, sources), ()

    # ------------------------------------------------------------ head

    def head(self) -> tuple[Outline | None, tuple[Line, ...]]:
        lines = lines_of(self.text)
        end = next((n for n, line in enumerate(lines) if not line.text.strip()), len(lines))
        fields, lost = fields_of(lines[:end])
        hint = "A head has `title: …`, `minutes: 20`, `aims:` with a line `- …` for each."
        for line in lost:
            self.wrong("lesson-head", "this line of the head is not understood", line.span,
                       f"{hint} An empty line ends it.")  # fmt: skip
        by_name: dict[str, Field] = {}
        for field in fields:
            if field.name not in HEAD or field.name in by_name:
                said = "is there twice" if field.name in by_name else "is no field of a head"
                self.wrong("lesson-head", f"`{field.name}` {said}", field.span, hint)
            by_name[field.name] = field
        for name in ("title", "minutes", "aims"):
            if name not in by_name or not by_name[name].whole:
                span = by_name[name].span if name in by_name else Span(self.text.name, 0, 0)
                self.wrong("lesson-head", f"the head does not say its {name}", span, hint)
        if self.found:
            return None, lines[end:]
        minutes = by_name["minutes"]
        if not minutes.value.isdecimal() or not 1 <= int(minutes.value) <= 600:
            self.wrong("lesson-head", "`minutes` is a whole number from 1 to 600", minutes.span,
                       "Write about how long a learner needs: `minutes: 20`.")  # fmt: skip
            return None, lines[end:]
        verdicts: list[tuple[str, str]] = []
        for line in by_name["verdicts"].more if "verdicts" in by_name else ():
            words = line.text.strip().removeprefix("- ").split(maxsplit=1)
            if len(words) != 2:
                self.wrong("lesson-head", "a line of `verdicts` is a requirement and its verdict",
                           line.span, "Write `- not_long refuted`.")  # fmt: skip
                continue
            verdicts.append((words[0], words[1]))
        outline = Outline(
            self.name,
            by_name["title"].whole,
            int(minutes.value),
            tuple(aim.removeprefix("- ") for aim in by_name["aims"].lines),
            "optional" in by_name and by_name["optional"].value == "yes",
            tuple(verdicts),
            sum(line.text.strip() == "```question" for line in lines),
        )
        return outline, lines[end:]

    # ------------------------------------------------------------ jobs

    def _jobs(self) -> None:
        folders: dict[str, list[SourceFile]] = {}
        for path in sorted(self.files):
            folder, _, file_name = path.rpartition("/")
            if file_name.endswith(".dusk") and folder != PLAIN:
                folders.setdefault(folder, []).append(self.files[path])
        for folder, files in folders.items():
            job, findings = check(Sources(tuple(files)), folder or self.name)
            self.found.extend(f for f in findings if f.severity is Severity.ERROR)
            if job is not None:
                self.jobs[folder] = LessonJob(folder, tuple(files), job)

    def _job(self, fields: Mapping[str, Field], span: Span) -> Job | None:
        """The job that a part of the text is about."""
        field = fields.get("job")
        folder = "" if field is None else field.value
        if folder in self.jobs:
            return self.jobs[folder].job
        known = ", ".join(f"`{name}`" for name in self.jobs if name)
        there = f"Its further jobs: {known}." if known else "Give the lesson a `job.dusk`."
        if not self.found:
            said = f"the lesson has no job `{folder}`" if folder else "the lesson has no job"
            self.wrong("lesson-files", said, span if field is None else field.span, there)
        return None

    # ------------------------------------------------------------ text

    def _blocks(self, lines: tuple[Line, ...]) -> tuple[Block, ...]:
        blocks: list[Block] = []
        at = 0
        while at < len(lines):
            text = lines[at].text.strip()
            fence = _FENCE.fullmatch(text)
            if not text:
                at += 1
            elif fence is not None:
                at = self._fenced(lines, at, fence, blocks)
            elif text.startswith("#"):
                blocks.append(Heading(text.lstrip("#").strip()))
                at += 1
            elif text.startswith("- ") or _NUMBERED.fullmatch(text):
                at = _items(lines, at, blocks)
            else:
                end = _paragraph_end(lines, at + 1)
                blocks.append(Prose(" ".join(line.text.strip() for line in lines[at:end])))
                at = end
        return tuple(blocks)

    def _fenced(
        self, lines: tuple[Line, ...], at: int, fence: re.Match[str], blocks: list[Block]
    ) -> int:
        end = at + 1
        while end < len(lines) and not lines[end].text.startswith(fence[1]):
            end += 1
        if end == len(lines) or lines[end].text.strip() != fence[1]:
            self.wrong("lesson-part", "this part has no end", lines[at].span,
                       f"Write a line `{fence[1]}` below it.")  # fmt: skip
            return end
        inner, kind, span = lines[at + 1 : end], fence[2], lines[at].span
        if kind == "question":
            question = self._question(inner, span)
            if question is not None:
                self.questions.append(question)
                if question.job:
                    self._listed(question.job, blocks)
                blocks.append(Asked(len(self.questions)))
        elif kind == "challenge":
            self._challenge(inner, span)
            blocks.append(Challenged())
        elif kind == "form":
            self._form(inner, span, blocks)
        elif kind == "job":
            fields = self._fields(inner, span, "lesson-part", "It may have `job: NAME`.")
            if fields is not None and self._job(fields, span) is not None:
                self._listed(_value(fields, "job"), blocks)
        else:
            blocks.append(Listing(kind, "\n".join(line.text for line in inner)))
        return end + 1

    def _listed(self, folder: str, blocks: list[Block]) -> None:
        """The files of a job as they are, once."""
        for file in self.jobs[folder].files:
            listing = Listing("dusk", file.text.rstrip())
            if listing not in blocks:
                blocks.append(listing)

    def _form(self, inner: tuple[Line, ...], span: Span, blocks: list[Block]) -> None:
        from verifier.model import check_form

        lines = [line for line in inner if line.text.strip()]
        fields: dict[str, Field] = {}
        if lines and lines[0].text.startswith("job:"):
            first, _ = fields_of((lines.pop(0),))
            fields["job"] = first[0]
        job = self._job(fields, span)
        form = " ".join(line.text.strip() for line in lines)
        if job is None:
            return
        requirement, problems, _ = check_form(form, job)
        if requirement is None:
            first_wrong = next(p for p in problems if p.severity is Severity.ERROR)
            place = lines[0].span if lines else span
            self.wrong("lesson-part", f"this form is wrong: {first_wrong.message}", place,
                       first_wrong.hint)  # fmt: skip
            return
        blocks.append(FormShown(form, fields["job"].value if fields else "", span))

    # ------------------------------------------------------------ questions

    def _fields(
        self, inner: tuple[Line, ...], span: Span, code: str, hint: str
    ) -> dict[str, Field] | None:
        fields, lost = fields_of(inner)
        for line in lost:
            self.wrong(code, "this line belongs to no field", line.span,
                       f"Indent it, if it goes on with the line above. {hint}")  # fmt: skip
        by_name: dict[str, Field] = {}
        for field in fields:
            if field.name in by_name:
                self.wrong(code, f"`{field.name}` is there twice", field.span, hint)
            by_name[field.name] = field
        return None if lost else by_name

    def _question(self, inner: tuple[Line, ...], span: Span) -> Question | None:
        hint = f"`kind:` is one of {', '.join(_FIELDS)}; then come `ask:`, `key:`, `why:` and more."
        fields = self._fields(inner, span, "lesson-question", hint)
        if fields is None:
            return None
        kind = fields["kind"].value if "kind" in fields else ""
        if kind not in _FIELDS:
            at = fields["kind"].span if "kind" in fields else span
            self.wrong("lesson-question", "the question does not say its kind", at, hint)
            return None
        good = True
        for name, field in fields.items():
            if name not in _FIELDS[kind]:
                good = False
                self.wrong("lesson-question", f"a question `{kind}` has no `{name}`", field.span,
                           f"It has {', '.join(f'`{each}`' for each in _FIELDS[kind])}.")  # fmt: skip
        for name in _NEEDED[kind]:
            if name not in fields or not fields[name].whole:
                good = False
                self.wrong("lesson-question", f"the question does not say its `{name}`", span,
                           f"A question `{kind}` needs {', '.join(_NEEDED[kind])}.")  # fmt: skip
        if not good or ("job" in fields and self._job(fields, span) is None):
            return None
        makers: dict[str, Callable[[dict[str, Field], Span], Question | None]] = {
            "predict": self._predict,
            "word": self._word,
            "figure": self._figure,
            "choose": self._choose,
        }
        return makers[kind](fields, span)

    def _predict(self, fields: dict[str, Field], span: Span) -> Question | None:
        job = self._job(fields, span)
        if job is None:
            return None
        script, problems = parse_script(_blanked(self.text, fields["script"]), job)
        self.found.extend(problems)
        thing = fields["thing"].value
        known = (*job.point, *job.rule, *job.door, *job.room)
        if thing not in known:
            self.wrong("lesson-question", f"the job has no `{thing}`", fields["thing"].span,
                       "Name a point, a door, a room or a rule of the job.")  # fmt: skip
        key: Lane | None = None
        if "key" in fields:
            try:
                key = read_lane(fields["key"].whole)
            except NotUnderstood as wrong:
                self.wrong("lesson-question", "the key is not understood", fields["key"].span,
                           str(wrong.args[0]))  # fmt: skip
        if script is None or thing not in known:
            return None
        told = fields["script"].lines
        ask, why, where = fields["ask"].whole, fields["why"].whole, _value(fields, "job")
        question = Predict(ask, where, thing, script, told, key, why, span)
        return question if self._has_one_answer(job, question, fields) else None

    def _has_one_answer(self, job: Job, question: Predict, fields: dict[str, Field]) -> bool:
        """Whether the script can be played, and leaves one lane to be drawn."""
        thing, place = question.thing, fields["script"].span
        point = job.point.get(thing)
        if point is not None and point.kind is PointKind.BUTTON:
            self.wrong("lesson-question", f"`{thing}` is a button: it has no value to be drawn",
                       fields["thing"].span, "Name a thing that is so or so for a while.")  # fmt: skip
            return False
        try:
            played = play(job, question.script, every_order=True)
        except CannotPlay as cannot:
            self.found.append(cannot.diagnostic)
            return False
        if played.impossible:
            line, why = played.impossible[0]
            self.wrong("lesson-question", f"`{line.words}` cannot be done in every order: {why}",
                       place, "Ask of something that is so in every order.")  # fmt: skip
            return False
        if played.differs is not None and thing in dict(played.differs.values):
            self.wrong("lesson-question",
                       f"the order of what happens at {duration(played.differs.at_s)} decides what "
                       f"`{thing}` is: the question has several right answers", place,
                       "Move a line of the script a little, so that one thing comes first.")  # fmt: skip
            return False
        return True

    def _word(self, fields: dict[str, Field], span: Span) -> Question | None:
        keys = tuple(read_word(key) for key in fields["key"].whole.split("|") if key.strip())
        claims = self._claims(fields, span)
        return Word(
            fields["ask"].whole, keys, fields["why"].whole, span, claims, _value(fields, "job")
        )

    def _figure(self, fields: dict[str, Field], span: Span) -> Question | None:
        try:
            key: Quantity = read_figure(fields["key"].whole)
        except NotUnderstood as wrong:
            self.wrong("lesson-question", "the key is no figure", fields["key"].span,
                       str(wrong.args[0]))  # fmt: skip
            return None
        told, claims = fields["key"].whole, self._claims(fields, span)
        ask, why = fields["ask"].whole, fields["why"].whole
        return Figure(ask, key, told, why, span, claims, _value(fields, "job"))

    def _choose(self, fields: dict[str, Field], span: Span) -> Question | None:
        options = [_OPTION.fullmatch(line) for line in fields["options"].lines]
        right = [n for n, option in enumerate(options) if option is not None and option[1] == "x"]
        if None in options or len(options) < 2 or len(right) != 1:
            self.wrong("lesson-question", "the options are not understood", fields["options"].span,
                       "Write each on an indented line, `( ) …`, and the right one `(x) …`.")  # fmt: skip
            return None
        texts = tuple(option[2] for option in options if option is not None)
        claims = self._claims(fields, span)
        ask, why = fields["ask"].whole, fields["why"].whole
        return Choose(ask, texts, right[0], why, span, claims, _value(fields, "job"))

    def _claims(self, fields: dict[str, Field], span: Span) -> tuple[Claim, ...]:
        found: list[Claim] = []
        if "claims" not in fields:
            return ()
        if self._job(fields, span) is None:
            return ()
        for line in fields["claims"].more:
            read = _CLAIM.fullmatch(line.text.strip())
            try:
                assert read is not None
                bound: Fraction | None = seconds_of(read["bound"]) if read["bound"] else None
            except (AssertionError, NotUnderstood):
                self.wrong("lesson-question", "this claim is not understood", line.span,
                           "Write `refuted: FORM`, `proved: FORM` or `answered 60 s: FORM`.")  # fmt: skip
                continue
            found.append(Claim(read[1].split()[0], bound, read["form"], line.span))
        return tuple(found)

    # ------------------------------------------------------------ challenge

    def _challenge(self, inner: tuple[Line, ...], span: Span) -> None:
        hint = (
            f"It has `ask:`, and what it is graded by lies in `{PACKED}` or the folder `{PLAIN}`."
        )
        if self.challenged is not None:
            self.wrong("lesson-challenge", "a lesson has one challenge at most", span,
                       "Make a lesson of its own of the second one.")  # fmt: skip
        self.challenged = span
        fields = self._fields(inner, span, "lesson-challenge", hint)
        if fields is None or self._job(fields, span) is None:
            return
        if "ask" not in fields or fields.keys() - {"ask", "job"}:
            self.wrong("lesson-challenge", "the challenge is not understood", span, hint)
            return
        try:
            if PACKED in self.files:
                hidden = unpacked(self.files[PACKED].text)
            else:
                plain = {
                    path.removeprefix(f"{PLAIN}/"): file.text
                    for path, file in self.files.items()
                    if path.startswith(f"{PLAIN}/")
                }
                hidden = hidden_of(plain)
        except NotPacked as wrong:
            file = self.files[PACKED].name if PACKED in self.files else self.text.name
            at = Span(file, 0, 0) if PACKED in self.files else span
            self.wrong(
                "lesson-challenge", f"the challenge cannot be graded: {wrong.args[0]}", at, hint
            )
            return
        self.challenge = Challenge(fields["ask"].whole, _value(fields, "job"), hidden, span)


def _value(fields: Mapping[str, Field], name: str) -> str:
    return fields[name].value if name in fields else ""


def _blanked(text: SourceFile, script: Field) -> SourceFile:
    """The lesson's text with nothing but the script in it, so that places in it stay as they are."""
    kept = ["\n" if character == "\n" else " " for character in text.text]
    for line in script.more:
        kept[line.start : line.start + len(line.text)] = line.text
    return SourceFile(text.name, "".join(kept))


def _items(lines: tuple[Line, ...], at: int, blocks: list[Block]) -> int:
    """Reads a list; the line after it."""
    items: list[str] = []
    numbered = not lines[at].text.strip().startswith("- ")
    while at < len(lines) and lines[at].text.strip():
        text = lines[at].text.strip()
        number = _NUMBERED.fullmatch(text)
        if text.startswith("- ") and not numbered:
            items.append(text[2:].strip())
        elif number is not None and numbered:
            items.append(number[1])
        elif lines[at].text.startswith(" ") and items:
            items[-1] = f"{items[-1]} {text}"
        else:
            break
        at += 1
    blocks.append(Items(tuple(items), numbered))
    return at


def _paragraph_end(lines: tuple[Line, ...], at: int) -> int:
    while at < len(lines):
        text = lines[at].text.strip()
        if not text or text.startswith(("#", "- ", "```")) or _NUMBERED.fullmatch(text):
            return at
        at += 1
    return at
