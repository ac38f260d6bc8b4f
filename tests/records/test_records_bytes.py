"""Whatever the bytes, reading them ends in records with findings or in a refusal: no other error, and no memory without bounds."""

import csv
import datetime as dt
import io
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Final

import mutated
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_examples import examples

from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.readers.read import read

TODAY: Final = dt.date(2026, 6, 30)
UNTIDY: Final = Path(__file__).parents[1] / "untidy"
TEXTS: Final = (
    "02_german_semicolon",
    "03_month_first",
    "20_impossible_days",
    "22_odd_climate_units",
    "27_dirty_cells",
    "33_words_and_units",
)
WORKBOOKS: Final = ("12_sheet_a_year/history.xlsx", "35_workbook_types/types.xlsx", "29_ods_padded/tools and runs.ods")
ARCHIVE: Final = "28_zip_as_mailed/records for you.zip"

SEEDS: Final = st.integers(0, 2**32 - 1)
few: Final = examples(6)
many: Final = examples(30)


def ends_well(path: Path) -> None:
    """Read and assemble; what is said must be sentences that can be printed."""
    sentences: list[str] = []
    try:
        upload = read(path, Choices(), TODAY)
        sentences += [text for finding in upload.findings for text in (finding.problem, finding.repair)]
        assert set(upload.counts) >= {row.table for row in upload.rows}
        records = assemble(upload.rows, upload.empty_tables, Choices())
        sentences += [text for finding in records.findings for text in (finding.problem, finding.repair)]
    except Refusal as refusal:
        sentences += [refusal.problem, refusal.repair]
    for sentence in sentences:
        assert sentence.isprintable() and sentence.endswith(".") and sentence == sentence.strip() and len(sentence) < 2_000, sentence


def in_file(name: str, content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        ends_well(path)


def spoilt_history(case: str, random: Random, change: Callable[[bytes], bytes]) -> None:
    """A folder of text files, one of them changed."""
    files = sorted((UNTIDY / case / "records").iterdir())
    chosen = random.choice(files)
    with tempfile.TemporaryDirectory() as folder:
        for file in files:
            content = file.read_bytes()
            (Path(folder) / file.name).write_bytes(change(content) if file == chosen else content)
        ends_well(Path(folder))


@many
@given(content=st.binary(max_size=300), name=st.sampled_from(("runs.csv", "tools.txt", "x.tsv", "a.zip", "a.xlsx", "a.ods", "a.xlsm")))
def test_any_bytes_under_any_name(content: bytes, name: str):
    in_file(name, content)


@many
@given(
    text=st.text(st.sampled_from('ab1.,;\t"\n\r -/:#=<%\0\ufeff\u00a0é') | st.characters(exclude_categories=["Cs"]), max_size=200),
    encoding=st.sampled_from(("utf-8", "utf-16", "utf-16-le", "cp1250")),
)
def test_any_text_in_any_encoding(text: str, encoding: str):
    header = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    in_file("runs.csv", (header + text).encode(encoding, "ignore"))


@many
@given(seed=SEEDS, case=st.sampled_from(TEXTS))
def test_spoilt_text(seed: int, case: str):
    random = Random(seed)
    spoilt_history(case, random, lambda content: mutated.spoil(content, random))


@many
@given(seed=SEEDS, case=st.sampled_from(TEXTS))
def test_odd_cells_in_text(seed: int, case: str):
    random = Random(seed)
    delimiter = ";" if case.startswith("02") else ","

    def change(content: bytes) -> bytes:
        rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), delimiter=delimiter))
        return mutated.as_text(mutated.spoil_cells(rows, random), delimiter)

    spoilt_history(case, random, change)


@few
@given(seed=SEEDS, case=st.sampled_from(TEXTS))
def test_odd_cells_in_a_workbook(seed: int, case: str):
    random = Random(seed)
    sheets = []
    for file in sorted((UNTIDY / case / "records").iterdir()):
        rows = list(csv.reader(io.StringIO(file.read_text("utf-8-sig"), newline=""), delimiter=";" if case.startswith("02") else ","))
        sheets.append((file.stem, mutated.spoil_cells(rows, random)))
    in_file("history.xlsx", mutated.as_workbook(sheets, random))


@few
@given(seed=SEEDS, workbook=st.sampled_from(WORKBOOKS))
def test_spoilt_workbooks(seed: int, workbook: str):
    path = UNTIDY / workbook
    in_file(path.name, mutated.spoil(path.read_bytes(), Random(seed)))


@few
@given(seed=SEEDS, workbook=st.sampled_from(WORKBOOKS))
def test_workbooks_spoilt_inside(seed: int, workbook: str):
    path = UNTIDY / workbook
    in_file(path.name, mutated.spoil_inside(path.read_bytes(), Random(seed)))


@many
@given(seed=SEEDS, inside=st.booleans())
def test_spoilt_archives(seed: int, inside: bool):
    change = mutated.spoil_inside if inside else mutated.spoil
    in_file("records.zip", change((UNTIDY / ARCHIVE).read_bytes(), Random(seed)))


FLOOR_MB: Final = 25  # what a few bytes cost already, once the libraries are loaded: buffers, and tables that they make at first use
PROCESS_MB: Final = 180  # the second process that a workbook is read in, libraries and all
TIMES: Final = 10

# The most of this process comes from /proc, where it starts at zero with the program; what getrusage tells of a process begins
# with the size of the one that started it. Of the workbook's process it therefore tells too much rather than too little.
MEASURE: Final = """
import re, resource, sys
from pathlib import Path
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.readers.read import read

def most_kb():
    return int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1])

before = most_kb()
upload = read(Path(sys.argv[1]), Choices(), None)
assemble(upload.rows, upload.empty_tables, Choices())
print((most_kb() - before + resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / 1024, len(upload.rows))
"""


def history_of(runs: int) -> list[tuple[str, list[list[str]]]]:
    """A plain history with so many runs of ten tools."""
    start = dt.date(2000, 1, 1)
    tools = [["tool_id", "service_class", "commissioned_on"], *([f"T{i}", "103", "2000-01-01"] for i in range(10))]
    rows = [["tool_id", "plant_id", "resin_id", "started_on", "ended_on", "shots"]]
    for i in range(runs):
        day = start + dt.timedelta(i // 10 % 9000)
        rows.append([f"T{i % 10}", f"plant {i % 7}", f"resin {i // 90_000}", day.isoformat(), day.isoformat(), str(1000 + i % 977)])
    return [("tools", tools), ("runs", rows), ("events", [["tool_id", "date", "event"], ["T1", "2010-01-01", "service"]])]


@pytest.mark.skipif(sys.platform != "linux", reason="the largest memory of a process is told in other units there")
@pytest.mark.parametrize(("form", "runs"), [("text", 3_000), ("text", 30_000), ("text", 200_000), ("workbook", 15_000)])
def test_memory_stays_in_proportion(form: str, runs: int, tmp_path: Path):
    sheets = history_of(runs)
    if form == "text":
        path = tmp_path / "history"
        path.mkdir()
        for name, rows in sheets:
            (path / f"{name}.csv").write_bytes(mutated.as_text(rows, ","))
    else:
        path = tmp_path / "history.xlsx"
        path.write_bytes(mutated.as_workbook(sheets))
    unpacked_mb = sum(len(mutated.as_text(rows, ",")) for _, rows in sheets) / 2**20
    done = subprocess.run([sys.executable, "-c", MEASURE, str(path)], check=True, capture_output=True, text=True)
    used_mb, rows_read = map(float, done.stdout.split())
    assert rows_read == runs + 11
    assert used_mb <= TIMES * unpacked_mb + FLOOR_MB + (PROCESS_MB if form == "workbook" else 0)
