"""Which file is the older, and what of it is used where a newer one says otherwise."""

import pytest
from fleets import Cells, read_of, region_of, run, tool

from wearfit.records.findings import Finding
from wearfit.records.rows import rows_in_force
from wearfit.records.sheets.ages import age_of


@pytest.mark.parametrize(
    ("older", "newer"),
    [
        ("tools_old.csv", "tools.csv"), ("tools - Copy.csv", "tools.csv"), ("tools backup.csv", "tools.csv"),
        ("tools.csv", "tools new.csv"),
        ("archive.xlsx, sheet tools", "book.xlsx, sheet tools"), ("tools 2022.csv", "tools 2023.csv"), ("tools 2023.csv", "tools.csv"),
        ("tools_2024-03-31.csv", "tools_2024-04-01.csv"), ("tools 20240331.csv", "tools 20240401.csv"), ("tools.csv", "tools (1).csv"),
        ("tools 31.12.2023.csv", "tools 01.01.2024.csv"), ("tools v1.csv", "tools v2.csv"), ("tools (1).csv", "tools (2).csv"),
        ("tools rev 9.csv", "tools rev 10.csv"), ("tools 2024-03.csv", "tools 2024-04.csv"), ("tools old 2024.csv", "tools 2023.csv"),
        ("tools 2022-2023.csv", "tools 2022-2024.csv"), ("tools previous.csv", "a tools.csv"),
    ],
)  # fmt: skip
def test_the_older_name(older: str, newer: str):
    assert age_of(older) < age_of(newer)


@pytest.mark.parametrize(
    ("one", "other"), [("tools a.csv", "tools b.csv"), ("golden tools.csv", "tools.csv"), ("line 12.csv", "line 13.csv")]
)
def test_names_that_do_not_tell(one: str, other: str):
    assert age_of(one) == age_of(other)


def _used(table: str, *files: tuple[str, list[Cells]], column: str) -> tuple[list[str], list[Finding]]:
    sheet = read_of(*(region_of(table, rows, source) for source, rows in files))
    return sorted(row.values[column] for row in rows_in_force(sheet.rows)), list(sheet.findings)


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("old", ["tools_old.csv", "a backup.csv"])
def test_an_older_list_never_wins_by_the_alphabet(old: str, reverse: bool):
    files = [("tools.csv", [tool(cavities="2"), tool("T2", cavities="4")]), (old, [tool(cavities="8"), tool("T2", cavities="9")])]
    used, (finding,) = _used("tools", *(reversed(files) if reverse else files), column="cavities")
    assert used == ["2", "4"]
    assert finding.problem.startswith("2 rows have the same tool_id and other values than rows of ") and old in finding.problem
    assert "tools.csv is the one used, for by its name it is the newer." in finding.problem
    assert (finding.row, finding.source) == (None, "tools.csv") and "'tools.csv' = \"\"" in finding.repair


def test_where_nothing_tells_the_last_is_used_and_told_once():
    files = [("a.csv", [tool(cavities="2"), tool("T2", cavities="4")]), ("b.csv", [tool(cavities="8"), tool("T2", cavities="9")])]
    used, (finding,) = _used("tools", *files, column="cavities")
    assert used == ["8", "9"]
    assert "b.csv is the one used" in finding.problem and "no name says which is newer" in finding.problem


JANUARY, MARCH = ("2024-01-01", "2024-01-09"), ("2024-03-01", "2024-03-09")


def test_runs_of_an_older_file_that_say_otherwise_do_not_count_beside_the_newer():
    files = [("runs.csv", [run(*JANUARY, "1000")]), ("runs old.csv", [run(*JANUARY, "900"), run(*MARCH, "700")])]
    used, (finding,) = _used("runs", *files, column="shots")
    assert used == ["1000", "700"]
    assert "runs.csv is the one used" in finding.problem


@pytest.mark.parametrize(("one", "other"), [("early shift.csv", "late shift.csv"), ("runs 2023.csv", "runs 2024.csv")])
def test_runs_of_two_lists_side_by_side_both_count(one: str, other: str):
    files = [(one, [run(*JANUARY, "1000"), run(*MARCH, "500")]), (other, [run(*JANUARY, "900"), run(*MARCH, "700")])]
    used, (finding,) = _used("runs", *files, column="shots")
    assert used == ["1000", "500", "700", "900"]
    assert "both count" in finding.problem and one in finding.problem and finding.source == other


def test_a_copy_of_a_file_is_told_once():
    rows = [run(*JANUARY, "1000"), run(*MARCH, "500")]
    used, (finding,) = _used("runs", ("runs.csv", rows), ("runs old.csv", rows), column="shots")
    assert used == ["1000", "500"]
    assert finding.problem == "2 rows say the same as rows of runs old.csv, first row 2; each is counted once."


def test_repeats_within_the_newer_file_stay():
    files = [("runs.csv", [run(*JANUARY, "1000"), run(*JANUARY, "600")]), ("runs old.csv", [run(*JANUARY, "900")])]
    used, findings = _used("runs", *files, column="shots")
    assert used == ["1000", "600"] and len(findings) == 2
