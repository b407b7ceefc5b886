"""The pages of what can be wrong with a script of `duskproof try`."""

from __future__ import annotations

from verifier.diagnostics.codes import Page

_WHY = "A script that cannot be played says nothing of the job."

PAGES: tuple[Page, ...] = (
    Page(
        code="script-calendar",
        title="A script for a job whose site rules clock and sun",
        means="A script counts from its start and names no date, so the site's sun cannot turn in it.",
        why="Sun and clock of some day would be shown as if they were those of any.",
    ),
    Page(
        code="script-fade",
        title="A fade from a level that a script does not tell",
        means="A fade was cut short, and the next one begins somewhere between two levels that are read.",
        why="When it reaches a level hangs on where it begins; a moment would only be made up.",
    ),
    Page(
        code="no-scripts",
        title="No script to play",
        means="`duskproof try FOLDER` plays the files of the folder whose names end in `.run`.",
        why=_WHY,
    ),
    Page(
        code="script-empty",
        title="A script in which nothing happens",
        means="A script has at least one line that says what happens, or what is expected, at a time.",
        why=_WHY,
    ),
    Page(
        code="script-line",
        title="A line of a script that is not understood",
        means=(
            "A line is `at TIME HAPPENING`, `after TIME HAPPENING`, either with `expect CONDITION` "
            "instead, `starts POINT VALUE, …` above them or `until TIME` below them. `#` begins a "
            "comment."
        ),
        why=_WHY,
    ),
    Page(
        code="script-time",
        title="A time of a script that does not fit",
        means="Times are durations from the start (`at`) or from the line before (`after`), in order.",
        why=_WHY,
    ),
    Page(
        code="script-happening",
        title="A happening that this job's surroundings do not have",
        means="What happens is said in the words of the language: `side_door becomes open`, `night begins`.",
        why=_WHY,
    ),
    Page(
        code="script-start",
        title="A start that no run of the job has",
        means="The values after `starts` contradict the job's own, each other, or an assumption.",
        why=_WHY,
    ),
    Page(
        code="script-due",
        title="Something outside is due and the script does not say it",
        means=(
            "A door cannot move longer than its travel, and an assumption can bound a stretch: by "
            "then the script has to say what happens."
        ),
        why=_WHY,
    ),
    Page(
        code="no-such-script",
        title="A script that is not there",
        means="The file named after the folder is looked for as it is written, then in the folder.",
        why=_WHY,
    ),
    Page(
        code="script-too-large",
        title="A script that is far too large",
        means="A script is some lines of text; a file beyond 1 MB is another kind of file.",
        why=_WHY,
    ),
    Page(
        code="script-endless",
        title="A happening after which the rules never come to rest",
        means="Rules set each other off for ever with no time passing: nothing comes after that.",
        why=_WHY,
    ),
    Page(
        code="script-long",
        title="A script in which too much happens",
        means="What runs out on the way to a line is played one by one, and that is bounded.",
        why=_WHY,
    ),
    Page(
        code="script-impossible",
        title="A happening that is not possible at that moment",
        means=(
            "A point has that value already, a door is not there yet, a hold time or a re-arm time "
            "is not over, or an assumption forbids it."
        ),
        why=_WHY,
    ),
    Page(
        code="script-orders",
        title="Too many orders to try them all",
        means="With `--every-order` the number of runs side by side is bounded.",
        why=_WHY,
    ),
)
