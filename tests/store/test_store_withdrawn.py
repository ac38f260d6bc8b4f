"""The same bytes read otherwise: rows that they are no longer read to hold do not stay beside the right ones."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace

from wearfit.records.identity import Row
from wearfit.records.upload import Upload
from wearfit.store.store import Store
from wearfit.store.uploads import UploadOutcome


def _read_as(upload: Upload, days: Sequence[str]) -> Upload:
    """The same bytes with the first days of the runs read otherwise."""
    rows = [
        replace(row, key=json.dumps(["A1", "north", "abs", day]), values={**row.values, "started_on": day, "ended_on": day})
        for row, day in zip(upload.rows, days, strict=True)
    ]
    return replace(upload, rows=tuple(rows))


def test_days_read_the_other_way_round_take_the_place_of_those_read_before(
    url: str, raw: Callable, runs: Callable, upload_of: Callable
) -> None:
    months_first = _read_as(upload_of(runs([10, 20])), ["2020-03-04", "2020-05-06"])
    days_first = _read_as(months_first, ["2020-04-03", "2020-06-05"])
    with Store.open(url) as store:
        store.add_upload(months_first)
        assert store.add_upload(days_first) == UploadOutcome(1, new=2, changed=0, unchanged=0, repeated=0, withdrawn=2)
        assert store.rows() == list(days_first.rows)
        assert store.add_upload(days_first) == UploadOutcome(1, new=0, changed=0, unchanged=2, repeated=0)
        assert store.add_upload(months_first) == UploadOutcome(1, new=2, changed=0, unchanged=0, repeated=0, withdrawn=2)
        assert store.rows() == list(months_first.rows)
    versions = raw("SELECT key, version, withdrawn FROM row_versions ORDER BY 1, 2")
    by_key: dict[str, list[int]] = {}
    for key, _, withdrawn in versions:
        by_key.setdefault(key, []).append(withdrawn)
    assert list(by_key.values()) == [[0, 1, 0], [0, 1], [0, 1, 0], [0, 1]]


def test_a_table_left_out_is_withdrawn_and_its_count_goes(url: str, runs: Callable, upload_of: Callable) -> None:
    plant = Row("plants", '["north"]', 0, {"plant_id": "north"}, 2, "plants.csv")
    both = replace(upload_of([*runs([10]), plant]), counts={"runs": 1, "plants": 1})
    with Store.open(url) as store:
        store.add_upload(both)
        outcome = store.add_upload(replace(both, rows=both.rows[:1], counts={"runs": 1}))
        assert (outcome.unchanged, outcome.withdrawn) == (1, 1)
        assert [row.table for row in store.rows()] == ["runs"]
        assert store.uploads()[0].counts == {"runs": 1}


def test_rows_of_other_uploads_stay(url: str, runs: Callable, upload_of: Callable) -> None:
    first, other = upload_of(runs([10, 20])), upload_of(runs([7], "south"))
    with Store.open(url) as store:
        store.add_upload(first)
        store.add_upload(other)
        store.add_upload(replace(first, rows=first.rows[1:]))
        assert sorted(row.values["shots"] for row in store.rows()) == ["20", "7"]


def test_a_row_withdrawn_by_one_upload_and_brought_by_another_is_in_force(url: str, runs: Callable, upload_of: Callable) -> None:
    first, grown = upload_of(runs([10])), upload_of(runs([10, 20]))
    with Store.open(url) as store:
        store.add_upload(first)
        store.add_upload(grown)
        store.add_upload(replace(first, rows=()))
        assert store.add_upload(grown) == UploadOutcome(2, new=1, changed=0, unchanged=1, repeated=0)
        assert [row.values["shots"] for row in store.rows()] == ["10", "20"]


def test_repeats_keep_their_places(url: str, upload_of: Callable) -> None:
    key = '["A1","2020-01-01","gate"]'
    values = [{"tool_id": "A1", "date": "2020-01-01", "feature": "gate", "value": value} for value in ("0.1", "0.2", "0.3")]
    rows = [Row("readings", key, 0, each, i + 2) for i, each in enumerate(values)]
    whole = upload_of(rows)
    with Store.open(url) as store:
        store.add_upload(whole)
        assert store.add_upload(replace(whole, rows=whole.rows[1:])).withdrawn == 1
        assert [(row.occurrence, row.values["value"]) for row in store.rows()] == [(1, "0.2"), (2, "0.3")]
        assert store.add_upload(whole) == UploadOutcome(1, new=1, changed=0, unchanged=2, repeated=0)
        assert [(row.occurrence, row.values["value"]) for row in store.rows()] == [(0, "0.1"), (1, "0.2"), (2, "0.3")]
