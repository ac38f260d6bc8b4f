"""Everything in a store as open files, in a folder that can be handed over as records again."""

import csv
import datetime as dt
import io
import zipfile
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, Final

from wearfit import __version__
from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.decisions import toml_of
from wearfit.records.formulas import kept_as_text
from wearfit.records.tables import TABLES
from wearfit.report.folder import whole_folder
from wearfit.store.store import Store
from wearfit.store.uploads import empty_tables
from wearfit.workflow.export_words import about_folder
from wearfit.workflow.exported import CHOICES, FORM

if TYPE_CHECKING:
    from wearfit.records.identity import Row
    from wearfit.store.snapshot import Snapshot

APART: Final = "exported_row"  # heads that count; wearfit keeps such a column and does not use it
_LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)  # the day that an archive writes where none is told


def export(store_url: str, folder: Path) -> dict[str, Any]:
    """Write everything that a store holds to a new folder.

    Returns
    -------
    dict
        What every answer carries, the path, how many files, and what was damaged in the store and is left out.

    Raises
    ------
    Refusal
        Where there is no store, or as `whole_folder`; nothing is left then.
    """
    about: dict[str, Any] = {}
    with Store.open(store_url, must_exist=True) as store, store.snapshot() as held, whole_folder(folder, about) as made:
        about |= _about(held)
        _records(held, made)
        about["damaged"] = [*_uploads(held, made / "uploads"), *_calibrations(held, made / "calibrations")]
        _tables(held, made / "store")
        began = None if about["calibration"] is None else f"calibrations/{_priors_of(about['calibration'])}"
        about["priors"] = began if began is not None and (made / began).is_file() else None
        (made / "README.md").write_text(about_folder(about), encoding="utf-8")
    return {**about, "path": str(folder), "written": sum(path.is_file() for path in folder.rglob("*"))}


def _about(held: "Snapshot") -> dict[str, Any]:
    """What answers from the store now, and the terms by which it answers again."""
    current = next((entry for entry in held.calibrations() if entry.current), None)
    summary = None if current is None else current.summary
    return {
        "form": FORM,
        "wearfit": __version__,
        "as_of": None if summary is None else str(summary.as_of),
        "calibration": None if current is None else current.id,
        "fingerprint": None if summary is None else summary.fingerprint,
        "seed": None if summary is None else summary.seed,
        "law": None if summary is None else summary.law,
        "settings": {name: value for name in ("horizon", "tolerance", "unnoticed") if (value := held.setting(name)) is not None},
    }


def _records(held: "Snapshot", made: Path) -> None:
    from wearfit.records.write import write_rows  # needs data frames, which take long to load

    rows = [_in_known_columns(row) for row in held.rows()]
    write_rows(rows, made, empty_tables(held.uploads()))
    # The rows are written in one plain way, so that choices about ways of writing would only mislead their reader.
    decided = replace(Choices(), names=held.choices().names, counts=held.choices().counts)
    (made / CHOICES).write_text(toml_of(decided), encoding="utf-8")


def _in_known_columns(row: "Row") -> "Row":
    """A row in the template's columns alone: what was made of others, such as a unit beside a number, is in these by now.

    Where others told rows of one key apart, such as the number of an order, a count of them does so.
    """
    known = {name: cell for name, cell in row.values.items() if name in TABLES[row.table].names}
    return replace(row, values=known | ({APART: str(row.occurrence)} if row.occurrence else {}))


def _uploads(held: "Snapshot", made: Path) -> list[str]:
    """The bytes as they came, an archive for each upload; says which are damaged."""
    made.mkdir()
    damaged = []
    for upload in held.uploads():
        try:
            files = held.files(upload.id)
        except Refusal as refusal:
            damaged.append(refusal.problem)
            continue
        content = io.BytesIO()
        with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
            for place, (name, data) in enumerate(files):
                # A name from outside may lead out of the folder that the archive is unpacked to: its last part, numbered.
                safe = f"{place:04}-{PurePosixPath(name.replace(chr(92), '/')).name or 'file'}"
                archive.writestr(zipfile.ZipInfo(safe, _LONG_AGO), data)
        (made / f"{upload.id:04}.zip").write_bytes(content.getvalue())
    return damaged


def _calibrations(held: "Snapshot", made: Path) -> list[str]:
    """Each calibration, and the priors that it began with."""
    from wearfit.calibration import from_bytes

    made.mkdir()
    damaged = []
    for entry in held.calibrations():
        try:
            blob = held.calibration(entry.id).blob
            (made / f"{entry.id:04}.nc").write_bytes(blob)
            (made / _priors_of(entry.id)).write_text(from_bytes(blob).identity.priors, encoding="utf-8", newline="")
        except Refusal as refusal:  # damaged, or in a form that this version does not read
            damaged.append(refusal.problem)
    return damaged


def _priors_of(calibration: int) -> str:
    return f"{calibration:04}-priors.toml"


def _tables(held: "Snapshot", made: Path) -> None:
    made.mkdir()
    for table in held.tables():
        with (made / f"{table.name}.csv").open("x", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(table.columns)
            writer.writerows([_cell(value) for value in row] for row in table.rows)


def _cell(value: Any) -> Any:
    if isinstance(value, str):
        return kept_as_text(value)
    if isinstance(value, bool):
        return int(value)
    return value.isoformat() if isinstance(value, dt.date) else value
