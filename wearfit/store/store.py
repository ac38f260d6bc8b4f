"""The store: the one place where records, choices, calibrations and settings are kept. Each call is one transaction."""

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.store import backtests, calibrations, choices, evidence, history, overrides, past, settings, uploads
from wearfit.store.actor import ITSELF, acting_as
from wearfit.store.backtests import BacktestEntry, StoredBacktest
from wearfit.store.calibrations import CalibrationEntry, CalibrationSummary, StoredCalibration
from wearfit.store.evidence import EvidenceEntry
from wearfit.store.history import Line
from wearfit.store.open_store import OpenStore
from wearfit.store.overrides import Override
from wearfit.store.past import PastState, Restored
from wearfit.store.snapshot import Snapshot
from wearfit.store.uploads import StoredUpload, UploadOutcome
from wearfit.store.versions import Newest, newest_versions, versions_of

if TYPE_CHECKING:
    from wearfit.records.upload import Upload


class Store(OpenStore):
    """An open store, to be closed after use; `with Store.open(url) as store:` does so.

    Any number of processes and threads may have the same store open: readers see the last complete write, writers
    wait for each other. Every method raises `Refusal` where the file, its disk or the server fails, and then has stored nothing.
    """

    def add_upload(self, upload: "Upload") -> UploadOutcome:
        """Keep an upload, bytes and rows; see `uploads.add_upload`."""
        with self._deed(history.RECORDS, upload.name) as (connection, entry):
            return uploads.add_upload(connection, upload, entry)

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
        with self._deed(history.RECORDS, ", ".join(dict.fromkeys(upload.name for upload in given))) as (connection, entry):
            choices.keep_choices(connection, decided, entry, anew)
            return [uploads.add_upload(connection, upload, entry) for upload in given]

    def rows_with(self, given: "Sequence[Upload]") -> tuple[list[Row], list[UploadOutcome]]:
        """The rows that the store would hold, and what each upload would do to it, if they were kept; nothing is."""
        with self._trial(history.RECORDS) as (connection, entry):
            # The bytes change no row and may be many.
            outcomes = [uploads.add_upload(connection, replace(upload, files=()), entry) for upload in given]
            return uploads.current_rows(connection), outcomes

    def choices_line(self) -> int:
        """The line of the history that the user's last decision came with, 0 before the first one."""
        with self._database.reading() as connection:
            return choices.choices_line(connection)

    def choices(self, up_to: int | None = None) -> Choices:
        """What the user has decided about reading the records, now or by a line of the history."""
        with self._database.reading() as connection:
            return choices.read_choices(connection, up_to)

    def keep_choices(self, decided: Choices) -> Choices:
        """Put decisions over those kept; returns what holds then. Earlier states stay in the store."""
        with self._deed(history.CHOICES) as (connection, entry):
            return choices.keep_choices(connection, decided, entry)

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

    def versions(self, up_to: int | None = None, since: int | None = None) -> list[tuple[Row, Newest]]:
        """The newest version of every row with its number and the upload that it came with; withdrawn ones too.

        Parameters
        ----------
        up_to : int, optional
            As they stood after this line of the history.
        since : int, optional
            Of rows alone that have a version of a later line than this one.
        """
        with self._database.reading() as connection:
            return list(newest_versions(connection, up_to=up_to, since=since))

    def add_calibration(
        self, blob: bytes, summary: CalibrationSummary, make_current: bool, override_older: bool = False, rests_on: int | None = None
    ) -> int:
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
        rests_on : int, optional
            The line of the history after whose state it was made.

        Returns
        -------
        int
            Its number. Whether it became current: `current_id`.
        """
        with self._deed(history.CALIBRATION, rests_on=rests_on) as (connection, entry):
            added = calibrations.add_calibration(connection, blob, summary, entry.at)
            entry.write(str(added))
            # Asked before the new one is current, inside the same transaction: two at once are judged in turn.
            if make_current and calibrations.may_become_current(connection, summary, override_older):
                calibrations.make_current(connection, added, entry)
            return added

    def calibration(self, calibration_id: int | None = None) -> StoredCalibration:
        """A calibration with its bytes, the current one by default; `Refusal` if there is none or it is damaged.

        Where the current one is damaged, the last good one before it is made current: it is given where none was named, and
        answers from the next question on where the damaged one was. The history says that wearfit did so itself: whoever asks when the
        damage comes to light has no part in it, and asks in a thread of the app's more often than not.
        """
        try:
            with self._database.reading() as connection:
                now = calibrations.current_id(connection)
                return calibrations.read_calibration(connection, calibration_id)
        except calibrations.Damaged as damaged:
            if calibration_id not in (None, now):
                raise
            with acting_as(ITSELF), self._deed(history.FALL_BACK, str(now)) as (connection, entry):
                good = calibrations.fall_back(connection, entry)
            if good is None:
                raise
            if calibration_id is not None:
                repair = f"Calibration {good}, the last good one before it, answers from now on: ask again."
                raise calibrations.Damaged(damaged.problem, repair) from damaged
        with self._database.reading() as connection:
            return calibrations.read_calibration(connection, good)

    def instead_of(self) -> str:
        """What to say where the calibration that answers stands in for a damaged one; "" where it does not."""
        with self._database.reading() as connection:
            return calibrations.instead_of(connection)

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
        with self._deed(history.USE, str(calibration_id)) as (connection, entry):
            calibrations.make_current(connection, calibration_id, entry)

    def add_backtest(self, entry: BacktestEntry) -> None:
        """Keep a backtest; earlier ones stay."""
        with self._deed(history.BACKTEST) as (connection, line):
            backtests.add_backtest(connection, entry, line.at)
            line.write()

    def last_backtest(self) -> StoredBacktest | None:
        """The newest backtest, None before the first one."""
        with self._database.reading() as connection:
            return backtests.last_backtest(connection)

    def add_evidence(self, entry: EvidenceEntry) -> None:
        """Keep a look at a calibration; earlier ones stay."""
        with self._deed(history.EVIDENCE, str(entry.calibration)) as (connection, line):
            evidence.add_evidence(connection, entry, line.at)
            line.write()

    def last_evidence(self, kind: str, calibration: int) -> EvidenceEntry | None:
        """The newest look of a kind at a calibration, None before the first one."""
        with self._database.reading() as connection:
            return evidence.last_evidence(connection, kind, calibration)

    def add_override(self, override: Override) -> None:
        """Keep what an owner says of a tool beside the model's answer; earlier judgements stay."""
        with self._deed(history.JUDGEMENT, override.tool_id) as (connection, entry):
            overrides.add_override(connection, override)
            entry.write()

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
        with self._deed(history.SETTING, name) as (connection, entry):
            settings.write_setting(connection, name, value, entry)

    def history(self) -> list[Line]:
        """Who did what when, oldest first."""
        with self._database.reading() as connection:
            return history.lines(connection)

    def line_of_calibration(self, calibration: int) -> int | None:
        """The line of the history after whose state a calibration was made, None where nothing is told of it."""
        with self._database.reading() as connection:
            return history.line_of_calibration(connection, calibration)

    def records_since(self, calibration: int) -> bool:
        """Whether records, or choices by which they are read, changed after those that a calibration was made of."""
        with self._database.reading() as connection:
            return history.records_since(connection, calibration)

    def records_line(self) -> int:
        """The last line of the history that changed records, or choices by which they are read; 0 where it tells of none."""
        with self._database.reading() as connection:
            return history.records_line(connection)

    def versions_of(self, row: Row) -> list[tuple[Row, Newest]]:
        """Every version of a row, oldest first."""
        with self._database.reading() as connection:
            return versions_of(connection, row.table, row.key, row.occurrence)

    def state_after(self, line: int) -> PastState:
        """What the store held after a line of its history; `Refusal` where there is no such line."""
        with self._database.reading() as connection:
            return past.state_after(connection, line)

    def restore(self, line: int) -> Restored:
        """Bring the state after a line of the history back, as new versions; see `past.restore`."""
        with self._deed(history.RESTORE, str(line), line) as (connection, entry):
            return past.restore(connection, line, entry)

    def restoring(self, line: int) -> Restored:
        """What `restore` would do; nothing is kept of it."""
        with self._trial(history.RESTORE, str(line), line) as (connection, entry):
            return past.restore(connection, line, entry)
