"""Runs drawn from a press-cycle log are those that a plain loop over its shots finds, however the log is cut into files and parts."""

import csv
import datetime as dt
import random
from collections import Counter
from pathlib import Path

import pytest
import shot_logs
from shot_logs import CYCLE, FIRST, GAP, Shot, by_weeks, dealt, moved, rolled_up, simulated, write, write_all

from wearfit.errors import Refusal
from wearfit.press_logs import survey as surveys
from wearfit.press_logs.engine import Limits
from wearfit.press_logs.runs import joined, runs_of
from wearfit.press_logs.sessions import HOUR_US, Session, in_order, sessions_of
from wearfit.press_logs.survey import Reading, parted, survey
from wearfit.workflow.check import check
from wearfit.workflow.rollup import RollupOrder, rollup
from wearfit.workflow.ways import Here, Processes

LIMITS = Limits(memory_mb=300)
READING = Reading()
EPOCH = dt.datetime(1970, 1, 1)


def sessions_in(folder: Path, kept: Path) -> tuple[list[Session], int]:
    """The sessions of a folder of logs, and how many parts they were drawn from."""
    kept.mkdir()
    parts = parted(survey(folder, READING, LIMITS))
    for number, part in enumerate(parts):
        (kept / f"{number}.parquet").write_bytes(sessions_of(part, READING, LIMITS))
    return list(joined(in_order(sorted(kept.iterdir()), LIMITS), READING.gap_hours)), len(parts)


def moment(us: int) -> dt.datetime:
    return EPOCH + dt.timedelta(microseconds=us)


def as_plain(sessions: list[Session]) -> list[tuple[object, ...]]:
    return [(s.tool, s.plant, s.resin, moment(s.first), moment(s.last), s.shots, s.rejects) for s in sessions]


def expected(shots: list[Shot]) -> list[tuple[object, ...]]:
    return [(r.tool, r.plant, r.resin, r.first, r.last, r.shots, r.rejects) for r in rolled_up(shots)]


@pytest.mark.parametrize(("seed", "most_rows"), [(1, surveys.MOST_ROWS), (2, surveys.MOST_ROWS), (3, 500)])
def test_they_are_those_of_a_plain_loop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, most_rows: int) -> None:
    monkeypatch.setattr(surveys, "MOST_ROWS", most_rows)
    shots = simulated(seed, tools=4, sessions=24)
    write_all(tmp_path / "log", dealt(shots, 4, seed))
    sessions, parts = sessions_in(tmp_path / "log", tmp_path / "kept")
    assert as_plain(sessions) == expected(shots)
    assert parts >= 3
    months = {(s.tool, moment(s.first).month != moment(s.last).month) for s in sessions}
    assert any(crosses for _, crosses in months)  # runs that a border cuts are among them
    again = sum(map(len, dealt(shots, 4, seed))) - len(shots)
    assert sum(s.duplicates for s in sessions) == again > 50


def test_files_by_time_give_the_same_as_files_in_no_order(tmp_path: Path) -> None:
    shots = simulated(3)
    write_all(tmp_path / "weeks", by_weeks(shots))
    write_all(tmp_path / "piles", dealt(shots, 3, 3))
    by_week, _ = sessions_in(tmp_path / "weeks", tmp_path / "a")
    in_piles, _ = sessions_in(tmp_path / "piles", tmp_path / "b")
    assert as_plain(by_week) == as_plain(in_piles)


def test_rows_of_one_time_that_differ_are_one_shot_whichever_file_comes_first(tmp_path: Path) -> None:
    shots = simulated(4, tools=1, sessions=2)
    others = moved(shots[10:20], resin="R9")
    for name, piles in (("ab", (shots, others)), ("ba", (others, shots))):
        write_all(tmp_path / name, piles)
    one, _ = sessions_in(tmp_path / "ab", tmp_path / "one")
    other, _ = sessions_in(tmp_path / "ba", tmp_path / "other")
    assert one == other
    assert sum(s.shots for s in one) == len(shots)
    assert sum(s.duplicates for s in one) == 10


def test_days_are_those_of_utc_wherever_the_machine_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stamps with a zone, over the nights in which clocks are put forward, in processes that stand elsewhere."""
    monkeypatch.setenv("TZ", "America/New_York")
    at = dt.datetime(2024, 3, 9, 22)
    shots = [Shot("T1", at + i * CYCLE, "P1", "R1") for i in range(24 * 6 * 23)]
    write(tmp_path / "log" / "zoned.parquet", shots, "* REPLACE (timestamp AT TIME ZONE 'UTC' AS timestamp)")
    order = RollupOrder(tmp_path / "log", tmp_path / "runs.csv", READING, LIMITS)
    document = rollup(order, Processes(1))
    assert document["shots"] == len(shots)
    assert (document["first"], document["last"]) == (str(shots[0].at.date()), str(shots[-1].at.date()))
    assert len(written(order)) == 1


def written(order: RollupOrder) -> list[dict[str, str]]:
    with order.out.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_no_shot_is_lost_on_the_way_to_the_table_and_no_key_is_there_twice(tmp_path: Path) -> None:
    shots = simulated(5, tools=8, sessions=30)
    write_all(tmp_path / "log", dealt(shots, 3, 5))
    order = RollupOrder(tmp_path / "log", tmp_path / "runs.csv", READING, LIMITS)
    document = rollup(order, Here())
    rows = written(order)
    made = Counter((s.tool, s.plant, s.resin) for s in shots)
    assert Counter({key: sum(int(r["shots"]) for r in rows if key_of(r) == key) for key in map(key_of, rows)}) == made
    assert len({(*key_of(r), r["started_on"]) for r in rows}) == len(rows) == document["runs"]
    good = {key: sum(s.good for s in shots if (s.tool, s.plant, s.resin) == key) for key in made}
    assert {key: sum(int(r["parts"]) for r in rows if key_of(r) == key) / 4 for key in made} == good
    assert all(int(r["parts"]) + int(r["scrap_parts"]) == 4 * int(r["shots"]) for r in rows)


def key_of(row: dict[str, str]) -> tuple[str, str, str]:
    return row["tool_id"], row["plant_id"], row["resin_id"]


def test_the_records_have_nothing_to_say_of_them(tmp_path: Path) -> None:
    """Changes of resin and plant within a day, stops within a day, runs over months: no finding that is not the owner's."""
    shots = simulated(6, tools=6, sessions=40)
    write_all(tmp_path / "log", dealt(shots, 3, 6))
    folder = tmp_path / "records"
    folder.mkdir()
    rollup(RollupOrder(tmp_path / "log", folder / "runs.csv", READING, LIMITS, tmp_path / "parts"), Here())
    tools = "".join(f"T{n},103,4,2024-01-15,P1,600\n" for n in range(6))
    (folder / "tools.csv").write_text("tool_id,service_class,cavities,commissioned_on,plant_id,cycle_time_s\n" + tools)
    (folder / "events.csv").write_text("tool_id,date,event\n")
    (folder / "resins.csv").write_text("resin_id,family\nR1,ABS\nR2,PP\n")
    (folder / "plants.csv").write_text("plant_id\nP1\nP2\n")
    found = check(folder)
    assert found.refusal is None
    assert found.tables["runs"].used == found.tables["runs"].rows > 100
    assert [f for f in found.findings if f.table == "runs"] == []


def session(resin: str, first: float, last: float) -> Session:
    """Of one tool, from one hour to another since the first day began."""
    return Session("T1", "P1", resin, round(first * HOUR_US), round(last * HOUR_US), 10, 0, 0, 0, None, None, 0.0, 0)


@pytest.mark.parametrize(
    ("sessions", "rows"),
    [
        ([("A", 1, 5), ("A", 14, 20)], [("A", 0, 0, 20)]),  # a stop within a day
        ([("A", 1, 5), ("A", 26, 30)], [("A", 0, 0, 10), ("A", 1, 1, 10)]),  # a night between
        ([("A", 1, 26), ("A", 40, 60)], [("A", 0, 2, 20)]),  # the second begins on the first's last day
        ([("A", 1, 5), ("B", 6, 9), ("A", 14, 20)], [("A", 0, 0, 20), ("B", 0, 0, 10)]),
        ([("A", 1, 5), ("B", 6, 9), ("A", 14, 60)], [("B", 0, 0, 10), ("A", 0, 2, 20)]),  # of one key, one row
        ([("A", 1, 26), ("B", 27, 30), ("A", 40, 60)], [("A", 0, 1, 10), ("B", 1, 1, 10), ("A", 1, 2, 10)]),  # not over B
        ([("A", 1, 26), ("B", 27, 30), ("A", 40, 46)], [("A", 0, 1, 20), ("B", 1, 1, 10)]),
    ],
)
def test_sessions_that_share_a_day_are_one_row(sessions: list[tuple[str, float, float]], rows: list[tuple[object, ...]]) -> None:
    found = runs_of(session(*one) for one in sessions)
    assert [(r.resin, r.first // (24 * HOUR_US), r.last // (24 * HOUR_US), r.shots) for r in found] == rows


def test_a_stop_of_just_the_gap_is_none(tmp_path: Path) -> None:
    first = [Shot("T1", FIRST + i * CYCLE, "P1", "R1") for i in range(3)]
    second = [Shot("T1", first[-1].at + GAP + i * CYCLE, "P1", "R1") for i in range(3)]
    third = [Shot("T1", second[-1].at + GAP + dt.timedelta(seconds=1), "P1", "R1")]
    write(tmp_path / "log" / "a.parquet", [*first, *second, *third])
    sessions, _ = sessions_in(tmp_path / "log", tmp_path / "kept")
    assert [s.shots for s in sessions] == [6, 1]


def test_it_goes_on_where_it_was_broken_off_and_reads_what_is_new_alone(tmp_path: Path) -> None:
    shots = sorted(simulated(8, sessions=24), key=lambda shot: shot.at)
    cut = next(i for i, shot in enumerate(shots) if shot.at >= dt.datetime(2024, 4, 1))
    write(tmp_path / "log" / "old.parquet", shots[:cut])
    order = RollupOrder(tmp_path / "log", tmp_path / "runs.csv", READING, LIMITS)
    assert rollup(order, Here())["parts_found"] == 0
    write(tmp_path / "log" / "new.parquet", shots[cut:])
    document = rollup(order, Here())
    assert 0 < document["parts_found"] < document["parts_drawn"]
    whole = RollupOrder(tmp_path / "log", tmp_path / "whole.csv", READING, LIMITS)
    assert rollup(whole, Here())["shots"] == len(shots)
    assert order.out.read_bytes() == whole.out.read_bytes()


def test_processes_give_what_one_gives(tmp_path: Path) -> None:
    shots = simulated(9, tools=2)
    write_all(tmp_path / "log", dealt(shots, 3, 9))
    for name, spread in (("one", Here()), ("two", Processes(2))):
        rollup(RollupOrder(tmp_path / "log", tmp_path / f"{name}.csv", READING, LIMITS), spread)
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


def test_columns_of_other_names_kinds_and_files_without_some(tmp_path: Path) -> None:
    shots = simulated(10, tools=2, sessions=6)
    half = len(shots) // 2
    write(
        tmp_path / "log" / "a.parquet", shots[:half],
        "substr(tool_id, 2)::BIGINT AS \"Mould No.\", timestamp::TIMESTAMP_NS AS ts, resin_id AS Material, (NOT good)::TINYINT AS rejected",
    )  # fmt: skip
    write(tmp_path / "log" / "deeper" / "b.parquet", shots[half:], "substr(tool_id, 2) AS tool_id, timestamp, resin_id, good")
    order = RollupOrder(tmp_path / "log", tmp_path / "runs.csv", Reading(plant="P7"), LIMITS)
    document = rollup(order, Here())
    plain = rolled_up([Shot(s.tool[1:], s.at, "P7", s.resin, s.good) for s in shots])
    assert document["shots"] == sum(run.shots for run in plain)
    assert {row["plant_id"] for row in written(order)} == {"P7"}
    files = survey(tmp_path / "log", Reading(plant="P7"), LIMITS)
    assert sum(s.rejects for part in parted(files) for s in one_by_one(part, tmp_path)) == sum(run.rejects for run in plain)


def one_by_one(part: surveys.Part, folder: Path) -> list[Session]:
    (folder / "part.parquet").write_bytes(sessions_of(part, Reading(plant="P7"), LIMITS))
    return list(in_order([folder / "part.parquet"], LIMITS))


def test_what_cannot_be_used_is_counted_and_told(tmp_path: Path) -> None:
    shots = simulated(11, tools=2, sessions=4)
    write(
        tmp_path / "log" / "a.parquet", shots,
        "CASE WHEN tool_id = 'T0' OR good THEN tool_id END AS tool_id, timestamp, plant_id, "
        "CASE WHEN resin_id = 'R1' THEN resin_id ELSE ' ' END AS resin_id",
    )  # fmt: skip
    document = rollup(RollupOrder(tmp_path / "log", tmp_path / "runs.csv", READING, LIMITS), Here())
    nameless = sum(s.tool == "T1" and not s.good for s in shots)
    assert document["without_tool_or_time"] == nameless > 0
    assert document["without_plant_or_resin"] == sum(s.resin != "R1" for s in shots if s.tool == "T0" or s.good)
    assert document["shots"] == sum(s.resin == "R1" for s in shots if s.tool == "T0" or s.good)
    assert any("no tool or no time" in sentence for sentence in document["sentences"])


def test_memory_may_be_less_than_the_shots_need(tmp_path: Path) -> None:
    """Half a million shots of fifty bytes and their windows in 100 MB: DuckDB goes on from disk, and nothing is lost."""
    import duckdb

    with duckdb.connect() as connection:
        query = (
            "SELECT 'tool-' || (i % 200) AS tool_id, TIMESTAMP '2024-02-01' + INTERVAL (i // 200 * 30) SECOND AS timestamp, "
            "'plant' AS plant_id, 'resin' AS resin_id FROM range(500000) rows(i)"
        )
        shot_logs.copy(connection, query, tmp_path / "log" / "a.parquet")
    order = RollupOrder(tmp_path / "log", tmp_path / "runs.csv", READING, Limits(memory_mb=100))
    document = rollup(order, Here())
    assert (document["shots"], document["runs"]) == (500_000, 200)


def test_order_of_rows_says_nothing(tmp_path: Path) -> None:
    shots = simulated(12, tools=3, sessions=8)
    mixed = shots.copy()
    random.Random(1).shuffle(mixed)
    for name, some in (("a", shots), ("b", mixed)):
        write(tmp_path / name / "log.parquet", some)
        rollup(RollupOrder(tmp_path / name, tmp_path / f"{name}.csv", READING, LIMITS), Here())
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()


# --- what cannot be read ---------------------------------------------------------------------------------------------------------


def refused(folder: Path, reading: Reading = READING) -> Refusal:
    out = folder.parent / "runs.csv"
    with pytest.raises(Refusal) as caught:
        rollup(RollupOrder(folder, out, reading, LIMITS), Here())
    assert not out.exists()
    return caught.value


SHOTS = simulated(13, tools=1, sessions=2)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ("* EXCLUDE tool_id", "'a.parquet' has no column 'tool_id'; it has timestamp, plant_id"),
        ("* EXCLUDE plant_id", "no column 'plant_id'"),
        ("* REPLACE (timestamp::VARCHAR AS timestamp)", "'timestamp' of 'a.parquet' holds VARCHAR, where time stamps are wanted"),
        ("* REPLACE (timestamp::DATE AS timestamp)", "holds DATE"),
        ("* REPLACE (epoch(timestamp) AS timestamp)", "holds DOUBLE"),
        ("* REPLACE (1.5::DOUBLE AS tool_id)", "'tool_id' of 'a.parquet' holds DOUBLE, where text or whole numbers are wanted"),
        ("* REPLACE ('yes' AS good)", "1 for a good shot"),
        ("* REPLACE (NULL::VARCHAR AS tool_id)", "not one shot"),
    ],
)
def test_a_column_that_is_missing_or_of_another_kind_is_told(tmp_path: Path, columns: str, said: str) -> None:
    write(tmp_path / "log" / "a.parquet", SHOTS, columns)
    assert said in refused(tmp_path / "log").problem


def test_a_repair_names_the_option(tmp_path: Path) -> None:
    write(tmp_path / "log" / "a.parquet", SHOTS, "* EXCLUDE plant_id")
    assert refused(tmp_path / "log").repair == "Name it by --column plant_id=NAME, or give one for all by --plant."
    assert "name one of them" in refused(tmp_path / "log", Reading(named=(("plant_id", "werk"),))).repair


def test_an_empty_folder_and_none_are_told(tmp_path: Path) -> None:
    (tmp_path / "log").mkdir()
    assert "holds no file that ends in .parquet" in refused(tmp_path / "log").problem
    missing = refused(tmp_path / "nowhere")
    assert (missing.status, "no file or folder" in missing.problem) == (2, True)


def test_a_damaged_file_is_named_and_the_other_parts_are_kept(tmp_path: Path) -> None:
    shots = sorted(simulated(14), key=lambda shot: shot.at)
    log = tmp_path / "log"
    write(log / "good.parquet", [s for s in shots if s.at < dt.datetime(2024, 3, 1)])
    write(log / "bad.parquet", [s for s in shots if s.at >= dt.datetime(2024, 3, 1)])
    (log / "bad.parquet").write_bytes((log / "bad.parquet").read_bytes()[:-50])
    assert "'bad.parquet' cannot be read" in refused(log).problem
    # Whole at its end and damaged within, which shows when its rows are read.
    write(log / "bad.parquet", [s for s in shots if s.at >= dt.datetime(2024, 3, 1)])
    content = bytearray((log / "bad.parquet").read_bytes())
    content[4:200] = bytes(range(196))
    (log / "bad.parquet").write_bytes(content)
    problem = refused(log).problem
    assert "cannot be read" in problem


def test_a_name_that_stands_for_several_files_is_told(tmp_path: Path) -> None:
    write(tmp_path / "log" / "a.parquet", SHOTS)
    (tmp_path / "log" / "a.parquet").rename(tmp_path / "log" / "a[1].parquet")
    assert "signs" in refused(tmp_path / "log").problem


@pytest.mark.parametrize("gap", [0.0, -1.0, float("nan"), 1e6])
def test_gaps_that_make_no_sense_are_refused(gap: float) -> None:
    with pytest.raises(Refusal, match="A gap of"):
        Reading(gap_hours=gap)
