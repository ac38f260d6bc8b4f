"""The store: the one place where records, choices, calibrations and settings are kept. Each call is one transaction."""

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from types import TracebackType
from typing import TYPE_CHECKING, Self

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.store import backtests, calibrations, choices, evidence, overrides, settings, uploads
from wearfit.store.address import store_path
from wearfit.store.backtests import BacktestEntry, StoredBacktest
from wearfit.store.calibrations import CalibrationEntry, CalibrationSummary, StoredCalibration
from wearfit.store.engine import Database
from wearfit.store.evidence import EvidenceEntry
from wearfit.store.opening import NoStore, is_there, open_database
from wearfit.store.overrides import Override
from wearfit.store.snapshot import Snapshot
from wearfit.store.uploads import StoredUpload, UploadOutcome
from wearfit.store.versions import Newest, newest_versions

if TYPE_CHECKING:
    from wearfit.records.upload import Upload


class Store:
    """An open store, to be closed after use; `with Store.open(url) as store:` does so.

    Any number of processes and threads may have the same store open: readers see the last complete write, writers
    wait for each other. Every method raises `Refusal` where the file or its disk fails, and then has stored nothing.
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    @classmethod
    def open(cls, url: str, must_exist: bool = False) -> Self:
        """Open a store, make it where there is none, and bring an older one up to date.

        Parameters
        ----------
        url : str
            `sqlite:///wearfit.db` or a bare path.
        must_exist : bool
            Refuse a store that does not exist yet rather than make it.

        Raises
        ------
        Refusal
            If the address is of another kind (status 2), or what lies there is not a store that this version can
            write; see `address.store_path` and `opening.open_database`.
        """
        return cls(open_database(store_path(url), must_exist))

    @classmethod
    def open_if_there(cls, url: str) -> Self | None:
        """Open a store where there is one, None where there is not; nothing is made.

        Raises
        ------
        Refusal
            As `open`.
        """
        if not is_there(store_path(url)):
            return None
        try:
            return cls.open(url, must_exist=True)
        except NoStore:
            return None

    def close(self) -> None:
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def add_upload(self, upload: "Upload") -> UploadOutcome:
        """Keep an upload, bytes and rows; see `uploads.add_upload`."""
        with self._database.writing() as connection:
            return uploads.add_upload(connection, upload, datetime.now(UTC))

    def add_uploads(self, given: "Sequence[Upload]", decided: Choices, anew: bool = False) -> list[UploadOutcome]:
        """Keep uploads and the choices that they were read with, all of it or nothing.

        Parameters
        ----------
        given : sequence of Upload
            Those that were read again among them, oldest first.
        decided : Choices
            Put over those that the store keeps.
        anew : bool
            Whether they take the place of those that the store keeps.

        Returns
        -------
        list of UploadOutcome
            In the same order.
        """
        at = datetime.now(UTC)
        with self._database.writing() as connection:
            choices.keep_choices(connection, decided, at, anew)
            return [uploads.add_upload(connection, upload, at) for upload in given]

    def rows_with(self, given: "Sequence[Upload]") -> tuple[list[Row], list[UploadOutcome]]:
        """The rows that the store would hold, and what each upload would do to it, if they were kept; nothing is."""
        at = datetime.now(UTC)
        with self._database.trying() as connection:
            # The bytes change no row and may be many.
            outcomes = [uploads.add_upload(connection, replace(upload, files=()), at) for upload in given]
            return uploads.current_rows(connection), outcomes

    def choices_since(self) -> datetime | None:
        """When the user's last decision was made, None before the first one."""
        with self._database.reading() as connection:
            return choices.choices_since(connection)

    def choices(self) -> Choices:
        """What the user has decided about reading the records."""
        with self._database.reading() as connection:
            return choices.read_choices(connection)

    def keep_choices(self, decided: Choices) -> Choices:
        """Put decisions over those kept; returns what holds then. Earlier states stay in the store."""
        with self._database.writing() as connection:
            return choices.keep_choices(connection, decided, datetime.now(UTC))

    def uploads(self) -> list[StoredUpload]:
        """Every upload, oldest first."""
        with self._database.reading() as connection:
            return uploads.stored_uploads(connection)

    def files(self, upload_id: int) -> tuple[tuple[str, bytes], ...]:
        """The files of an upload, name and bytes, as they came; `Refusal` if they are damaged."""
        with self._database.reading() as connection:
            return uploads.files_of(connection, upload_id)

    def findings(self, upload_id: int) -> tuple[Finding, ...]:
        """What the reader noticed in an upload; `Refusal` if there is no such upload."""
        with self._database.reading() as connection:
            return uploads.findings_of(connection, upload_id)

    def rows(self, tables: Collection[str] | None = None) -> list[Row]:
        """The newest version of every row, ordered by table, key and occurrence; of the given tables alone, if any are given."""
        with self._database.reading() as connection:
            return uploads.current_rows(connection, tables)

    def versions(self) -> list[tuple[Row, Newest]]:
        """The newest version of every row with its number and the upload that it came with; withdrawn ones too."""
        with self._database.reading() as connection:
            return list(newest_versions(connection))

    def add_calibration(self, blob: bytes, summary: CalibrationSummary, make_current: bool, override_older: bool = False) -> int:
        """Keep a calibration and, where wanted and allowed, make it current in the same transaction.

        Parameters
        ----------
        blob : bytes
            The saved posterior.
        summary : CalibrationSummary
            What a listing shows of it.
        make_current : bool
            Whether it is to answer from now on. One that did not pass the gate is kept and never does.
        override_older : bool
            Let it become current although the current one knows later records.

        Returns
        -------
        int
            Its number. Whether it became current: `current_id`.
        """
        at = datetime.now(UTC)
        with self._database.writing() as connection:
            added = calibrations.add_calibration(connection, blob, summary, at)
            # Asked before the new one is current, inside the same transaction: two at once are judged in turn.
            if make_current and calibrations.may_become_current(connection, summary, override_older):
                calibrations.make_current(connection, added, at)
            return added

    def calibration(self, calibration_id: int | None = None) -> StoredCalibration:
        """A calibration with its bytes, the current one by default; `Refusal` if there is none or it is damaged."""
        with self._database.reading() as connection:
            return calibrations.read_calibration(connection, calibration_id)

    def calibrations(self) -> list[CalibrationEntry]:
        """Every calibration, oldest first, without its bytes."""
        with self._database.reading() as connection:
            return calibrations.list_calibrations(connection)

    def current_id(self) -> int | None:
        """The number of the calibration that answers now, None before the first one."""
        with self._database.reading() as connection:
            return calibrations.current_id(connection)

    def use(self, calibration_id: int) -> None:
        """Make a calibration current again; `Refusal` if it did not pass, is damaged or is not there."""
        with self._database.writing() as connection:
            calibrations.make_current(connection, calibration_id, datetime.now(UTC))

    def add_backtest(self, entry: BacktestEntry) -> None:
        """Keep a backtest; earlier ones stay."""
        with self._database.writing() as connection:
            backtests.add_backtest(connection, entry, datetime.now(UTC))

    def last_backtest(self) -> StoredBacktest | None:
        """The newest backtest, None before the first one."""
        with self._database.reading() as connection:
            return backtests.last_backtest(connection)

    def add_evidence(self, entry: EvidenceEntry) -> None:
        """Keep a look at a calibration; earlier ones stay."""
        with self._database.writing() as connection:
            evidence.add_evidence(connection, entry, datetime.now(UTC))

    def last_evidence(self, kind: str, calibration: int) -> EvidenceEntry | None:
        """The newest look of a kind at a calibration, None before the first one."""
        with self._database.reading() as connection:
            return evidence.last_evidence(connection, kind, calibration)

    def add_override(self, override: Override) -> None:
        """Keep what an owner says of a tool beside the model's answer; earlier judgements stay."""
        with self._database.writing() as connection:
            overrides.add_override(connection, override)

    def overrides(self) -> list[Override]:
        """What owners say of their tools now: the newest judgement of each, in order of tools."""
        with self._database.reading() as connection:
            return overrides.overrides_in_force(connection)

    def overrides_of(self, tool_id: str) -> list[Override]:
        """Every judgement of a tool, newest first, those taken back among them."""
        with self._database.reading() as connection:
            return overrides.overrides_of(connection, tool_id)

    @contextmanager
    def snapshot(self) -> Iterator[Snapshot]:
        """The store as it stands, for as long as the block lasts."""
        with self._database.reading() as connection:
            yield Snapshot(connection)

    def setting(self, name: str) -> str | None:
        """The text of a setting, None where it was never made."""
        with self._database.reading() as connection:
            return settings.read_setting(connection, name)

    def set_setting(self, name: str, value: str | None) -> None:
        """Make or change a setting; None takes it away."""
        with self._database.writing() as connection:
            settings.write_setting(connection, name, value)
