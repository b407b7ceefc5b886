"""The pages of what can be wrong with a lesson, an answer or a learner's progress."""

from __future__ import annotations

from verifier.diagnostics.codes import Page

_TEACHER = "A lesson that cannot be read whole would be graded in part, and nobody would know."
_LEARNER = (
    "What is not understood is neither right nor wrong, so nothing is graded and nothing kept."
)

PAGES: tuple[Page, ...] = (
    Page(
        code="lesson-files",
        title="A lesson without its files",
        means="A lesson is a folder with `lesson.md`; a question names a folder inside by `job:`.",
        why=_TEACHER,
    ),
    Page(
        code="lesson-head",
        title="A lesson's head that is not understood",
        means=(
            "`lesson.md` begins with `title:`, `minutes:` and `aims:` (a line `- …` for each), if it is "
            "wanted `optional: yes` and `verdicts:` (a line `- NAME proved` for each requirement of its "
            "job). An empty line ends the head."
        ),
        why=_TEACHER,
    ),
    Page(
        code="lesson-part",
        title="A fenced part of a lesson that is not understood",
        means=(
            "A part begins with three back quotes and its kind (`question`, `challenge`, `form`, "
            "`dusk`, `console`) and ends with three back quotes on a line of their own."
        ),
        why=_TEACHER,
    ),
    Page(
        code="lesson-question",
        title="A question that is not understood",
        means=(
            "A question has `kind:` (predict, word, figure, choose), `ask:` and `why:`; a predict "
            "question `thing:` and `script:` (the lines of a script of `duskproof try`, indented, up "
            "to `until`), the others `key:` or `options:` (each on a line, `( ) …`, the right one `(x) …`)."
        ),
        why=_TEACHER,
    ),
    Page(
        code="lesson-challenge",
        title="A challenge that cannot be graded",
        means=(
            "What a challenge is graded by lies in `challenge.packed`, or plain in the folder "
            "`challenge`: `solution.dusk`, and either `hidden.dusk` (requirements) or `keeps-NAME.dusk` "
            "and `breaks-NAME.dusk` (rules that a requirement has to tell apart). `duskproof learn "
            "--folder DIR --pack` packs it."
        ),
        why=_TEACHER,
    ),
    Page(
        code="no-such-lesson",
        title="A lesson that is not there",
        means="A lesson is named by its number in the list of `duskproof learn`, or by its folder's name.",
        why=_LEARNER,
    ),
    Page(
        code="no-such-question",
        title="A question that the lesson does not have",
        means="`--answer N ANSWER` names a question by its number in the lesson.",
        why=_LEARNER,
    ),
    Page(
        code="answer-not-understood",
        title="An answer that cannot be read",
        means=(
            "A lane is written `off; 10 s on; 1 min 10 s off`: what it is at the start, then each "
            "change with its time from the start. A figure has its unit, a choice is a number."
        ),
        why=_LEARNER,
    ),
    Page(
        code="no-challenge",
        title="A lesson without a challenge",
        means="`--take`, `--hand-in` and `--pack` speak of a challenge, which not every lesson has.",
        why=_LEARNER,
    ),
    Page(
        code="file-there",
        title="A folder that a challenge cannot be put into",
        means="`--take DIR` writes the files to start from, and never over files that are there.",
        why="What you have written is not thrown away.",
    ),
    Page(
        code="progress-not-read",
        title="A file that holds no progress",
        means="How far a learner has come is a JSON file that `duskproof learn` or its page wrote.",
        why="It would be written over, and what is in it would be lost.",
    ),
)
