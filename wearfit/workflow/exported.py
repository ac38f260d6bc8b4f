"""An exported folder handed over again: what it says of the store that it came from."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.report.folder import read_manifest
from wearfit.store.store import Store
from wearfit.workflow.choices import choices_of_file
from wearfit.workflow.laws import check_law
from wearfit.workflow.settings import SEED

FORM: Final = "wearfit export 1"
CHOICES: Final = "choices.toml"


@dataclass(frozen=True)
class Exported:
    """The terms by which an exported store answers again.

    Parameters
    ----------
    choices : Choices
        That belong to its records.
    as_of, priors, seed, law : optional
        Of the calibration that answered; None where none did, and the law where it was not told.
    settings : mapping of str to str
        Of the store.
    """

    choices: Choices
    as_of: dt.date | None = None
    priors: Path | None = None
    seed: int | None = None
    law: str | None = None
    settings: Mapping[str, str] | None = None


def exported_of(paths: Sequence[Path], store_url: str) -> Exported:
    """What the folders among some paths that were exported say; nothing where none was.

    The terms of answering hold where one exported folder is handed over by itself to a store that holds no records yet; its choices in
    any case.

    Raises
    ------
    Refusal
        Where a folder is not as it was exported, or in a form that this version does not know.
    """
    read = [(path, manifest) for path in paths if path.is_dir() and (manifest := _manifest(path)) is not None]
    choices = Choices()
    for path, _ in read:
        choices = choices.later(choices_of_file(path / CHOICES))
    if len(read) != 1 or len(paths) != 1 or _holds_records(store_url):
        return Exported(choices)
    (folder, manifest) = read[0]
    if manifest["calibration"] is None:
        return Exported(choices, settings=manifest["settings"])
    day, seed = dt.date.fromisoformat(manifest["as_of"]), SEED.parse(str(manifest["seed"]))
    priors = None if manifest["priors"] is None else folder / manifest["priors"]
    law = None if manifest.get("law") is None else check_law(manifest["law"])
    return Exported(choices, day, priors, seed, law, manifest["settings"])


def _manifest(folder: Path) -> Mapping[str, Any] | None:
    manifest = read_manifest(folder)
    if manifest is None or not str(manifest.get("form", "")).startswith("wearfit export "):
        return None
    if manifest["form"] != FORM:
        raise Refusal(f"'{folder.name}' was exported by another version of wearfit.", f"Use wearfit {manifest.get('wearfit')} for it.")
    return manifest


def _holds_records(store_url: str) -> bool:
    store = Store.open_if_there(store_url)
    if store is None:
        return False
    with store:
        return bool(store.uploads())
