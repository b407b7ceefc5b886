"""Pages of what is told about papers that are taken in: points schedules."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

PAGES: tuple[Page, ...] = (
    Page(
        code="csv-not-readable",
        title="The file is no table",
        means="A cell's quotation mark has no end, something stands after one, or the file is empty.",
        why="Where one cell ends wrongly all that follow would be taken for others.",
    ),
    Page(
        code="schedule-cell",
        title="A cell does not fit its column",
        means="The text under a heading is none that a point can have, or a row has too many cells.",
        why="Nothing of a schedule is taken in while a part of it is wrong.",
    ),
    Page(
        code="schedule-clash",
        title="The job would be wrong with the schedule taken in",
        means="Each cell fits its column, but what comes of it does not fit together: an option of "
        "another kind of point, a name that something else has, a setting that is not declared.",
        why="Nothing is written that could not be read again.",
    ),
    Page(
        code="schedule-column",
        title="A column that is not taken in",
        severity=Severity.WARNING,
        means="It is no column of a schedule, or it follows from doors, rooms and rules.",
        why="What was written there is not in the job, whoever wrote it may think it is.",
    ),
    Page(
        code="schedule-header",
        title="The first row is no heading",
        means="It has no column `name`, or one stands twice.",
        why="The columns are known by their headings, in any order.",
    ),
    Page(
        code="schedule-left-over",
        title="Something is kept for a point that is gone",
        severity=Severity.WARNING,
        means="schedule.csv has a row whose name is no point of the job: it was renamed or taken out.",
        why="Its terminal may be in use, or its row is an old one; it is kept until you take it out.",
    ),
    Page(
        code="schedule-name",
        title="A row's name is none",
        means="The row names no point, one that another row names, or one that is not declared and "
        "has no kind.",
        why="It cannot be told which point is meant.",
    ),
    Page(
        code="schedule-same-place",
        title="Two points at one terminal or address",
        severity=Severity.WARNING,
        means="Two rows have the same text there, whatever the case of its letters.",
        why="One of them is most likely a slip; two wires at one terminal are meant at times.",
    ),
    Page(
        code="schedule-typical",
        title="A point of a typical cannot be changed alone",
        means="The point is declared once in a typical and stands for each place where it is applied.",
        why="The change would be made to all of them.",
    ),
)
