"""The points schedule out and in: nothing changes by going round, and what is edited is taken in."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.explain.jobs import SPECS
from verifier.diagnostics import Severity
from verifier.front.folder import read_folder
from verifier.handover.csv_table import csv_text, read_csv
from verifier.handover.schedule import COLUMNS, DERIVED, KEPT, Kept, kept_of, kept_rows, schedule_of
from verifier.handover.schedule_taken import Taken, taken_in
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

Rows = list[dict[str, str]]


def sources_of(text: str) -> Sources:
    return Sources((SourceFile("job.dusk", text),))


def job_of(sources: Sources) -> Job:
    job, found = check(sources, "job")
    assert job is not None, [f.message for f in found]
    return job


def spec(name: str) -> Sources:
    return read_folder(str(SPECS / name)).sources


def rows_of(sources: Sources, kept: Kept | None = None) -> Rows:
    return [dict(row) for row in schedule_of(job_of(sources), sources, kept or {}).rows]


def take(sources: Sources, rows: Rows, kept: Kept | None = None, delimiter: str = ",") -> Taken:
    columns = list(rows[0])
    text = csv_text([columns, *([row.get(c, "") for c in columns] for row in rows)], delimiter)
    # As a file is read: its line ends made even.
    table, found = read_csv(SourceFile("s.csv", text.replace("\r\n", "\n")))
    assert table is not None, found
    return taken_in(job_of(sources), sources, kept or {}, table)


def folders() -> list[Path]:
    return [f for f in sorted(SPECS.iterdir()) if any(f.glob("*.dusk")) and f.name != "standard"]


@pytest.mark.parametrize("name", [f.name for f in folders()])
def test_a_schedule_that_was_not_edited_changes_nothing(name: str) -> None:
    sources = spec(name)
    kept: Kept = {job_of(sources).points[0].name: ("X1:1", "C1", "", "=a; b")}
    rows = rows_of(sources, kept)
    assert [row["name"] for row in rows] == [p.name for p in job_of(sources).points]
    for delimiter in ",;\t":
        taken = take(sources, rows, kept, delimiter)
        assert taken == Taken(sources, kept, ())


JOB = """\
# what is fitted
setting run_on 2 min
contact  side_door  "Side door"   wired normally closed  # by the gate
detector pir
lamp     bay "Bay" 2 x 58 W
dimmer   strip   # bare
flag     held "Held"
rule r "R"
  upon pir becomes occupied
  do
    bay on
  end rule
"""

WANTED = st.fixed_dictionaries(
    {
        "side_door": st.fixed_dictionaries(
            {
                "label": st.sampled_from(["", "Side door", "Gate, left; lower"]),
                "wired": st.sampled_from(["", "normally open", "normally closed"]),
                "broken wire reads": st.sampled_from(["", "open", "shut"]),
                "wireless": st.sampled_from(["", "yes"]),
                "starts": st.sampled_from(["", "open", "shut"]),
            }
        ),
        "pir": st.fixed_dictionaries(
            {
                "label": st.sampled_from(["", "PIR"]),
                "holds": st.sampled_from(["", "8 s", "run_on", "1 min 30 s"]),
                "rearm": st.sampled_from(["", "3 s"]),
                "starts": st.sampled_from(["", "vacant"]),
            }
        ),
        "bay": st.fixed_dictionaries(
            {
                "kind": st.sampled_from(["lamp", "load"]),
                "power": st.sampled_from(["", "2 x 58 W", "18 W"]),
                "power return": st.sampled_from(["off", "on", "last"]),
                "local switch": st.sampled_from(["", "yes"]),
                "starts": st.sampled_from(["", "on"]),
            }
        ),
        "strip": st.fixed_dictionaries(
            {
                "label": st.sampled_from(["", "Strip"]),
                "starts": st.sampled_from(["", "60 %", "on", "off"]),
                "power": st.sampled_from(["", "40 W"]),
            }
        ),
        "held": st.fixed_dictionaries(
            {"retained": st.sampled_from(["", "yes"]), "starts": st.sampled_from(["", "yes"])}
        ),
    }
)


@settings(max_examples=150, deadline=None)
@given(
    WANTED,
    st.dictionaries(
        st.sampled_from(["side_door", "pir", "bay"]),
        st.tuples(*[st.sampled_from(["", "X1:1", "=2", "ä;b"])] * 4),
    ),
)
def test_what_is_edited_is_what_the_job_says_afterwards(
    wanted: dict[str, dict[str, str]], beside: dict[str, tuple[str, str, str, str]]
) -> None:
    sources = sources_of(JOB)
    rows = rows_of(sources)
    for row in rows:
        row.update(wanted.get(row["name"], {}))
        row.update(zip(KEPT, beside.get(row["name"], ("", "", "", "")), strict=True))
    taken = take(sources, rows)
    assert not taken.rejected, [f.message for f in taken.findings]
    assert rows_of(taken.after, taken.kept) == rows
    # What nobody edited stands as it stood: comments, and all that is no point.
    text = taken.after.files[0].text
    for piece in (
        "# what is fitted\n",
        "  # by the gate\n",
        "   # bare\n",
        JOB[JOB.index("rule r") :],
    ):
        assert piece in text
    again = take(taken.after, rows, taken.kept)
    assert (again.after, again.kept) == (taken.after, taken.kept)


@given(
    st.dictionaries(
        st.sampled_from(["side_door", "pir", "gone"]),
        st.tuples(*[st.text(alphabet="=+'\";,ab ä", max_size=6).map(str.strip)] * 4),
    )
)
def test_what_is_kept_beside_is_read_as_it_was_written(kept: Kept) -> None:
    job = job_of(sources_of(JOB))
    table, _ = read_csv(SourceFile("schedule.csv", csv_text(kept_rows(job, kept))))
    assert table is not None
    again, found = kept_of(table)
    assert not found
    filled = {name: texts for name, texts in kept.items() if any(texts) or name == "gone"}
    assert again == filled


def test_a_new_row_is_a_new_declaration_after_the_last_point() -> None:
    sources = sources_of(JOB)
    new = dict.fromkeys(COLUMNS, "")
    new |= {"name": "hall", "label": "Hall", "kind": "lamp", "power": "11 W", "terminal": "X9"}
    taken = take(sources, [*rows_of(sources), new])
    assert not taken.rejected
    text = taken.after.files[0].text
    assert 'flag     held "Held"\nlamp hall "Hall" 11 W\nrule r' in text
    assert job_of(taken.after).point["hall"].power_w == Fraction(11)
    assert taken.kept["hall"][0] == "X9"


def test_a_schedule_with_only_some_columns_leaves_the_others_alone() -> None:
    sources = sources_of(JOB)
    taken = take(
        sources,
        [{"name": "bay", "terminal": "X1", "label": "Bay lights"}],
        {"bay": ("", "C1", "", "")},
    )
    assert not taken.rejected
    assert 'lamp     bay "Bay lights" 2 x 58 W\n' in taken.after.files[0].text
    assert taken.kept == {"bay": ("X1", "C1", "", "")}


BAD = [
    ({"name": "nobody"}, "schedule-name", "no point called nobody"),
    ({"name": "side_dor"}, "schedule-name", "no point called side_dor"),
    ({"name": ""}, "schedule-name", "names no point"),
    ({"name": "3x", "kind": "lamp"}, "schedule-name", "cannot be the name"),
    ({"name": "bay", "kind": "candle"}, "schedule-cell", "`candle` does not fit under `kind`"),
    ({"name": "bay", "power": "58 s"}, "schedule-cell", "does not fit under `power`"),
    ({"name": "pir", "holds": "8"}, "schedule-cell", "does not fit under `holds`"),
    ({"name": "pir", "holds": "8 lux"}, "schedule-cell", "does not fit under `holds`"),
    ({"name": "side_door", "wired": "sideways"}, "schedule-cell", "under `wired`"),
    ({"name": "side_door", "starts": "on"}, "schedule-cell", "under `starts`"),
    ({"name": "side_door", "wireless": "perhaps"}, "schedule-cell", "under `wireless`"),
    ({"name": "bay", "power return": "half"}, "schedule-cell", "under `power return`"),
    ({"name": "bay", "label": 'a "b"'}, "schedule-cell", "no quotation marks"),
    ({"name": "pir", "power": "5 W"}, "schedule-clash", "with the schedule taken in"),
    ({"name": "pir", "holds": "nothing"}, "schedule-clash", "no setting called nothing"),
    ({"name": "bay", "kind": "contact"}, "schedule-clash", "with the schedule taken in"),
    ({"name": "r", "kind": "lamp"}, "schedule-clash", "with the schedule taken in"),
]


@pytest.mark.parametrize(("row", "code", "words"), BAD, ids=[w for _, _, w in BAD])
def test_a_bad_row_is_told_with_its_place_and_nothing_is_taken_in(
    row: dict[str, str], code: str, words: str
) -> None:
    sources = sources_of(JOB)
    columns = ["name", *(c for c in row if c != "name"), "remark"]
    text = csv_text(
        [
            columns,
            ["pir", *[""] * (len(columns) - 1)],
            [row.get(c, "") or "" for c in columns[:-1]] + ["note"],
        ]
    )
    file = SourceFile("s.csv", text.replace("\r\n", "\n"))
    if row["name"] == "pir":
        file = SourceFile(
            "s.csv", "\n".join(line for k, line in enumerate(file.text.split("\n")) if k != 1)
        )
    table, _ = read_csv(file)
    assert table is not None
    taken = taken_in(job_of(sources), sources, {}, table)
    assert taken.rejected
    error = next(f for f in taken.findings if f.severity is Severity.ERROR)
    assert error.code == code
    assert words in error.message
    assert error.hint
    line, _ = file.line_and_column(error.labels[0].span.start)
    assert line == (2 if row["name"] == "pir" else 3)
    if code == "schedule-cell":
        (column,) = [c for c in row if c != "name"]
        piece = file.text[error.labels[0].span.start : error.labels[0].span.end]
        assert piece.removeprefix('"').replace('""', '"').startswith(row[column])


def test_two_points_at_one_terminal_are_warned_of_whatever_the_case() -> None:
    sources = sources_of(JOB)
    taken = take(
        sources, [{"name": "bay", "terminal": "X1:3"}, {"name": "pir", "terminal": "x1:3 "}]
    )
    (warning,) = taken.findings
    assert (warning.code, warning.severity) == ("schedule-same-place", Severity.WARNING)
    assert "pir and bay have the same terminal" in warning.message
    assert not taken.rejected


def test_a_point_of_a_typical_keeps_its_declaration_and_gets_its_terminal() -> None:
    sources = sources_of(
        'typical landing\n  lamp light "Landing light" 12 W\nend typical\n'
        "apply landing to one, two\n"
    )
    rows = rows_of(sources)
    assert [row["name"] for row in rows] == ["one.light", "two.light"]
    rows[1]["terminal"] = "X2"
    taken = take(sources, rows)
    assert taken == Taken(sources, {"two.light": ("X2", "", "", "")}, ())
    rows[1]["power"] = "15 W"
    (problem,) = take(sources, rows).findings
    assert problem.code == "schedule-typical"


def test_what_follows_from_rules_is_not_taken_in() -> None:
    sources = sources_of(JOB)
    rows = rows_of(sources)
    assert {c: rows[1][c] for c in DERIVED} == {"belongs to": "", "read by": "r", "set by": ""}
    rows[1]["read by"] = "r, s"
    taken = take(sources, rows)
    assert [f.code for f in taken.findings] == ["schedule-column"]
    assert taken.after == sources


def test_headings_may_stand_in_any_order_and_case_and_unknown_ones_are_told() -> None:
    sources = sources_of(JOB)
    table, _ = read_csv(SourceFile("s.csv", "Power_Return;NAME;colour\nlast;bay;red\n"))
    assert table is not None
    taken = taken_in(job_of(sources), sources, {}, table)
    assert [f.code for f in taken.findings] == ["schedule-column"]
    assert job_of(taken.after).point["bay"].power_return == "last"
    for text in ("label,kind\na,lamp\n", "name,name\nbay,bay\n"):
        table, _ = read_csv(SourceFile("s.csv", text))
        assert table is not None
        assert [f.code for f in taken_in(job_of(sources), sources, {}, table).findings] == [
            "schedule-header"
        ]
