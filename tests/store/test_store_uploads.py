"""What an upload leaves in the store: bytes, versions, findings; and that the same again leaves nothing."""

import datetime
import json
from collections.abc import Callable
from dataclasses import replace

import pytest

from wearfit.errors import Refusal
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.upload import Upload, digest_of
from wearfit.store.store import Store
from wearfit.store.uploads import UploadOutcome

_FINDINGS = (
    Finding("runs", 7, "shots", "12 k", "This is not a number.", "Write 12000.", "set_aside", "history.xlsx, sheet runs"),
    Finding("runs", None, None, None, "The table has a column that is not known.", "Nothing needs to be done.", "note"),
    Finding("plants", 3, "latitude", "47,1", "The number has a decimal comma.", "It was read as 47.1.", "repaired"),
)


def test_bytes_come_back_as_they_came(url: str) -> None:
    files = (
        ("tools.csv", b"\xef\xbb\xbftool_id\r\nA1\r\n"),
        ("sub/odd name \N{SNOWMAN}.csv", bytes(range(256)) * 41),
        ("empty.csv", b""),
    )
    before = datetime.datetime.now(datetime.UTC)
    with Store.open(url) as store:
        upload_id = store.add_upload(Upload("history", digest_of(files), files, (), (), {"tools": 1})).upload_id
    with Store.open(url) as store:
        assert store.files(upload_id) == files
        (stored,) = store.uploads()
    assert (stored.id, stored.name, stored.digest, stored.counts) == (upload_id, "history", digest_of(files), {"tools": 1})
    assert before <= stored.at <= datetime.datetime.now(datetime.UTC)


def test_rows_come_back_as_they_came(url: str) -> None:
    odd = {"tool_id": "A1", "meine Spalte": 'Größe "3,5"\n\N{SNOWMAN}\0', "shots": "7"}
    rows = (Row("tools", '["A1"]', 0, odd, 2, "tools.csv"), Row("plants", '["north"]', 0, {"plant_id": "north"}, 5))
    with Store.open(url) as store:
        assert store.add_upload(Upload("h", "d", (), rows, (), {})) == UploadOutcome(1, 2, 0, 0, 0)
        assert store.rows() == [rows[1], rows[0]]


def test_findings_come_back_in_their_order(url: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        first = store.add_upload(upload_of(runs([1]), findings=_FINDINGS)).upload_id
        second = store.add_upload(upload_of(runs([1, 2]), findings=_FINDINGS[1:])).upload_id
        assert store.findings(first) == _FINDINGS
        assert store.findings(second) == _FINDINGS[1:]


def test_an_upload_that_is_not_there(url: str) -> None:
    with Store.open(url) as store:
        for ask in (store.findings, store.files):
            with pytest.raises(Refusal, match="no upload 4"):
                ask(4)


def test_the_same_grown_file_twice_changes_nothing(url: str, content: Callable, runs: Callable, upload_of: Callable) -> None:
    grown = upload_of(runs([10, 20, 35, 40]), findings=_FINDINGS)
    with Store.open(url) as store:
        assert store.add_upload(upload_of(runs([10, 20, 30]))) == UploadOutcome(1, new=3, changed=0, unchanged=0, repeated=0)
        assert store.add_upload(grown) == UploadOutcome(2, new=1, changed=1, unchanged=2, repeated=0)
    before = content()
    with Store.open(url) as store:
        assert store.add_upload(replace(grown, name="another name")) == UploadOutcome(2, new=0, changed=0, unchanged=4, repeated=0)
        assert [row.values["shots"] for row in store.rows()] == ["10", "20", "35", "40"]
    assert content() == before


def test_rows_absent_from_a_later_file_stay(url: str, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        store.add_upload(upload_of(runs([10, 20, 30])))
        store.add_upload(upload_of(runs([11])))
        assert [row.values["shots"] for row in store.rows()] == ["11", "20", "30"]


def test_every_version_is_kept_with_its_upload(url: str, raw: Callable, runs: Callable, upload_of: Callable) -> None:
    with Store.open(url) as store:
        for shots in (10, 11, 12):
            store.add_upload(upload_of(runs([shots])))
    kept = raw("SELECT version, upload_id, values_json FROM row_versions ORDER BY 1")
    assert [(version, upload, json.loads(values)["shots"]) for version, upload, values in kept] == [
        (1, 1, "10"),
        (2, 2, "11"),
        (3, 3, "12"),
    ]


def test_a_key_put_right_within_one_upload_keeps_both_versions(url: str, content: Callable, upload_of: Callable) -> None:
    earlier, later = (Row("plants", '["north"]', 0, {"plant_id": "north", "latitude": value}, 2) for value in ("47", "48"))
    upload = upload_of([earlier, later])
    with Store.open(url) as store:
        store.add_upload(upload)
        assert store.rows() == [later]
        before = content()
        again = store.add_upload(upload)
        assert (again.new, again.changed) == (0, 0)
    assert content() == before
    assert len(before["row_versions"][1]) == 2


def test_repeated_readings_are_rows_of_their_own(url: str, upload_of: Callable) -> None:
    key = '["A1","2020-01-01","gate"]'
    values = [{"tool_id": "A1", "date": "2020-01-01", "feature": "gate", "value": value} for value in ("0.1", "0.2", "0.3")]
    rows = [Row("readings", key, 0, each, i + 2) for i, each in enumerate(values)]
    with Store.open(url) as store:
        store.add_upload(upload_of(rows[:2]))
        outcome = store.add_upload(upload_of(rows))
        assert (outcome.new, outcome.changed, outcome.unchanged) == (1, 0, 2)
        assert [(row.occurrence, row.values["value"]) for row in store.rows()] == [(0, "0.1"), (1, "0.2"), (2, "0.3")]


def test_going_back_to_an_earlier_file_is_a_change(url: str, runs: Callable, upload_of: Callable) -> None:
    right, wrong = upload_of(runs([10])), upload_of(runs([99]))
    with Store.open(url) as store:
        store.add_upload(right)
        store.add_upload(wrong)
        assert store.add_upload(right) == UploadOutcome(1, new=0, changed=1, unchanged=0, repeated=0)
        assert [row.values["shots"] for row in store.rows()] == ["10"]
        assert len(store.uploads()) == 2


def test_a_better_reading_of_the_same_bytes_counts(url: str, runs: Callable, upload_of: Callable) -> None:
    now = upload_of(runs([10, 20]))
    then = replace(now, rows=now.rows[:1], findings=_FINDINGS[:1])
    with Store.open(url) as store:
        store.add_upload(then)
        assert store.add_upload(now) == UploadOutcome(1, new=1, changed=0, unchanged=1, repeated=0)
        assert store.rows() == list(now.rows)
        assert store.findings(1) == ()


def test_an_upload_that_fails_midway_leaves_nothing(url: str, content: Callable, runs: Callable, upload_of: Callable) -> None:
    rows = runs([10, 20])
    with Store.open(url) as store:
        store.add_upload(upload_of(rows[:1]))
        before = content()
        # The last row has no place in its file, which the table refuses.
        broken = upload_of([*rows, replace(runs([1], "south")[0], row=None)])
        with pytest.raises(Exception, match=r"(?i)not.null"):
            store.add_upload(broken)
        assert content() == before


def test_a_damaged_file_is_named_and_not_given_out(url: str, raw: Callable, runs: Callable, upload_of: Callable) -> None:
    upload = upload_of(runs([10]))
    with Store.open(url) as store:
        store.add_upload(upload)
        raw("UPDATE files SET content = :content", {"content": upload.files[0][1][:-1]})
        with pytest.raises(Refusal, match=r"runs\.csv of upload 1 is damaged"):
            store.files(1)
        assert store.rows() == list(runs([10]))


def test_rows_come_in_one_order_wherever_they_are_kept(url: str, upload_of: Callable) -> None:
    # The order of their bytes; a language would put a before B and pass over the quotes.
    names = ["A 1", "A-1", "A1", "B1", "Z", "a1", "b", "\N{LATIN SMALL LETTER E WITH ACUTE}1"]
    rows = [Row("tools", json.dumps([name], ensure_ascii=False), 0, {"tool_id": name}, i) for i, name in enumerate(reversed(names))]
    with Store.open(url) as store:
        store.add_upload(upload_of(rows))
        assert [row.values["tool_id"] for row in store.rows()] == names


def test_what_no_database_holds_is_kept_in_other_words(url: str, runs: Callable, upload_of: Callable) -> None:
    broken = "half \udce9 n\0me"  # a file name that is not UTF-8, as POSIX gives it
    written = "half \\udce9 n\N{REPLACEMENT CHARACTER}me"
    finding = Finding("runs", 2, "shots", "12", "Not a number.", "Write 12.", "set_aside", broken)
    with Store.open(url) as store:
        store.add_upload(replace(upload_of(runs([1]), broken, [finding]), files=((broken, b"x"),)))
        assert [kept.source for kept in store.findings(1)] == [written]
        assert store.files(1) == ((written, b"x"),)
        assert store.uploads()[0].name == written
