"""A store as it was after a line of its history, looked at, taken away and brought back."""

import io
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wearfit.records.choices import Choices
from wearfit.records.decisions import toml_of
from wearfit.records.identity import Row
from wearfit.store.past import PastState, Restored
from wearfit.store.store import Store
from wearfit.workflow.wording import count

_LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)  # the day that an archive writes where none is told


@dataclass(frozen=True)
class Past:
    """A past state.

    Parameters
    ----------
    line : int
        Of the history, after which the store was so.
    state : PastState
    rows : mapping of str to (int, int)
        How many rows each table had then, and has now.
    going_back : Restored or None
        What bringing it back would do now; None where that was not asked.
    fingerprint : str
        Of the records that the calibration of then rests on; "" where none answered.
    """

    line: int
    state: PastState
    rows: Mapping[str, tuple[int, int]]
    going_back: Restored | None
    fingerprint: str

    @property
    def sentence(self) -> str:
        """What answered then."""
        if self.state.calibration is None:
            return "No calibration answered yet at that time."
        return f"Calibration {self.state.calibration} answered then, of records {self.fingerprint}."

    def rows_of(self, table: str) -> tuple[Row, ...]:
        """The rows that a table had then."""
        return tuple(row for row in self.state.rows if row.table == table)


def look_back(store_url: str, line: int, going_back: bool) -> Past:
    """Look at what a store held after a line of its history; nothing is changed.

    Parameters
    ----------
    going_back : bool
        Whether to work out what bringing it back would do, which keeps other writers waiting meanwhile.

    Raises
    ------
    Refusal
        Where there is no such store or line.
    """
    with Store.open(store_url, must_exist=True) as store:
        state = store.state_after(line)
        would = store.restoring(line) if going_back else None
        now = Counter(row.table for row in store.rows())
        of_then = [entry.summary.fingerprint for entry in store.calibrations() if entry.id == state.calibration]
    then = Counter(row.table for row in state.rows)
    return Past(line, state, {table: (then[table], now[table]) for table in sorted({*then, *now})}, would, "".join(of_then))


def as_archive(past: Past) -> bytes:
    """The rows of a past state as a ZIP of CSV files, a table each, and the choices by which they were read; its comment says of when."""
    from wearfit.records.write import write_rows  # with data frames, which no other part of this needs

    content = io.BytesIO()
    with tempfile.TemporaryDirectory() as made, zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in write_rows(past.state.rows, Path(made)):
            archive.writestr(zipfile.ZipInfo(file.name, _LONG_AGO), file.read_bytes())
        if past.state.choices != Choices():
            archive.writestr(zipfile.ZipInfo("choices.toml", _LONG_AGO), toml_of(past.state.choices))
        archive.comment = f"Records of a wearfit store after line {past.line} of its history. {past.sentence}".encode()
    return content.getvalue()


def going_back_in_words(would: Restored) -> str:
    """What going back does, in a sentence."""
    parts = [*_parts(would)]
    return f"{'; '.join(parts)}." if parts else "Records, choices and settings are now as they were then."


def answers_then(past: Past) -> str:
    """Which calibration answers once the state is back, and why, in sentences; "" where none does."""
    would, then = past.going_back, past.state.calibration
    if would is None or would.calibration is None:
        return "" if would is None else would.kept_calibration
    if then == would.calibration:
        return f"Calibration {then} will answer, as it did then."
    stays = f"Calibration {would.calibration} goes on answering"
    if then is not None:
        return f"{stays}. {would.kept_calibration}"
    why = "none answered yet at that time, and going back takes no calibration away"
    rests = " It was made from later records: recalibrate afterwards." if would.back or would.withdrawn else ""
    return f"{stays}: {why}.{rests}"


def _parts(would: Restored) -> Iterator[str]:
    if would.back:
        yield f"{count(would.back, 'row is', 'rows are')} again as then"
    if would.withdrawn:
        yield f"{count(would.withdrawn, 'row that came later is', 'rows that came later are')} taken out"
    if would.choices:
        yield "records are read by the choices of then"
    if would.settings:
        yield f"settings as then: {', '.join(would.settings)}"
