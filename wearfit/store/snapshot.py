"""All that a store holds at one moment, as open values: what an export writes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, LargeBinary, select

from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.store import calibrations, choices, history, settings, uploads
from wearfit.store.calibrations import CalibrationEntry, StoredCalibration
from wearfit.store.schema import metadata
from wearfit.store.uploads import StoredUpload


@dataclass(frozen=True)
class WholeTable:
    """A table of the store: every row in order of its key, without contents that are files of their own."""

    name: str
    columns: tuple[str, ...]
    rows: Sequence[Sequence[Any]]


@dataclass(frozen=True)
class Snapshot:
    """A store as it stood when the first of these was asked, whatever is written meanwhile; the methods are those of `Store`."""

    _connection: Connection

    def tables(self) -> Iterator[WholeTable]:
        """Every table that there is, so that one which is added is never forgotten."""
        for table in metadata.sorted_tables:
            columns = [column for column in table.columns if not isinstance(column.type, LargeBinary)]
            rows = self._connection.execute(select(*columns).order_by(*table.primary_key.columns))
            yield WholeTable(table.name, tuple(column.name for column in columns), [tuple(row) for row in rows])

    def rows(self) -> list[Row]:
        return uploads.current_rows(self._connection)

    def last_line(self) -> int:
        """The last line of the history, 0 before the first one."""
        return history.last_line(self._connection)

    def uploads(self) -> list[StoredUpload]:
        return uploads.stored_uploads(self._connection)

    def files(self, upload_id: int) -> tuple[tuple[str, bytes], ...]:
        return uploads.files_of(self._connection, upload_id)

    def choices(self) -> Choices:
        return choices.read_choices(self._connection)

    def calibrations(self) -> list[CalibrationEntry]:
        return calibrations.list_calibrations(self._connection)

    def calibration(self, calibration_id: int) -> StoredCalibration:
        return calibrations.read_calibration(self._connection, calibration_id)

    def setting(self, name: str) -> str | None:
        return settings.read_setting(self._connection, name)
