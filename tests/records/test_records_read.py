"""The way in: one reader for each form, and a sentence for every other one."""

from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.records.readers.read import NOT_READ_YET, READERS, Reader, read


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.form)
def test_every_reader_turns_down_other_forms_and_refuses_rubbish_in_a_sentence(reader: Reader, tmp_path: Path):
    other = tmp_path / "records.unknown"
    other.write_bytes(b"x")
    assert not reader.accepts(other)
    for rubbish in (b"", b"\x00\xff" * 50, b'"' * 7, b",,,\n"):
        for suffix in (".csv", ".xlsx", ".ods", ".zip"):
            file = tmp_path / f"tools{suffix}"
            file.write_bytes(rubbish)
            if reader.accepts(file):
                with pytest.raises(Refusal):
                    reader.read(file)


@pytest.mark.parametrize("suffix", NOT_READ_YET)
def test_a_form_that_is_not_read_yet_is_said_to_be(suffix: str, tmp_path: Path):
    file = tmp_path / f"records{suffix.upper()}"
    file.write_bytes(b"x")
    with pytest.raises(Refusal, match="cannot be read yet") as refused:
        read(file)
    assert refused.value.status == 2


def test_nothing_there_and_no_known_form_are_wrong_use(tmp_path: Path):
    with pytest.raises(Refusal, match="nothing at") as refused:
        read(tmp_path / "absent")
    assert refused.value.status == 2
    (tmp_path / "records.doc").write_bytes(b"x")
    with pytest.raises(Refusal, match="not records in a form") as refused:
        read(str(tmp_path / "records.doc"))
    assert refused.value.status == 2


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "tools.csv").mkdir()
    (tmp_path / "runs.csv").write_text("x")

    def denied(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(Refusal, match=r"runs\.csv cannot be opened: Permission denied\."):
        read(tmp_path)
