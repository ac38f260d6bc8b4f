"""What a store holds now and held when its calibration was made: read once a calibration, and of every row since its last version."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from wearfit.records.choices import Choices
from wearfit.records.laid_over import laid_over
from wearfit.records.rows import Rows
from wearfit.store.calibrations import CalibrationEntry
from wearfit.store.store import Store
from wearfit.store.uploads import empty_tables
from wearfit.store.versions import Place, place_of
from wearfit.workflow.answers import Accepted, Current, accepted, read_current
from wearfit.workflow.new_records import Version, line_rested_on, read_versions


@dataclass(frozen=True)
class Held:
    """What the store held after the line of its history after whose state a calibration was made: no later line changes it.

    Parameters
    ----------
    line : int
    versions : mapping of Place to Version
        The newest of every row, in the order of tables, keys and occurrences.
    choices : Choices
        As they were then.
    """

    line: int
    versions: Mapping[Place, Version]
    choices: Choices

    @cached_property
    def rows(self) -> Rows:
        """Those in force."""
        return Rows.of(version.row for version in self.versions.values() if not version.withdrawn)


@dataclass(frozen=True)
class Stored:
    """A store as it is now, beside the calibration that answers.

    Parameters
    ----------
    current : Current
    entry : CalibrationEntry
    held : Held
    since : mapping of Place to Version
        The newest of every row that has one since.
    choices : Choices
    empty : set of str
        Tables that were handed over without a row.
    within : Accepted
    """

    store_url: str
    current: Current
    entry: CalibrationEntry
    held: Held
    since: Mapping[Place, Version]
    choices: Choices
    empty: set[str]
    within: Accepted

    @property
    def versions(self) -> list[Version]:
        """The newest version of every row, withdrawn ones too."""
        return list({**self.held.versions, **self.since}.values())

    @cached_property
    def rows(self) -> Rows:
        """Those in force; tables of which nothing came since are those that are held."""
        if not self.since:
            return self.held.rows
        gone: dict[str, set[tuple[str, int]]] = {}
        for table, key, occurrence in self.since.keys() & self.held.versions.keys():
            gone.setdefault(table, set()).add((key, occurrence))
        return laid_over(self.held.rows, gone, [version.row for version in self.since.values() if not version.withdrawn])


def read_stored(store_url: str) -> Stored:
    """What a store holds.

    Raises
    ------
    Refusal
        Where no calibration is current or it cannot be read, and where the history does not tell what it was made on.
    """
    with Store.open(store_url, must_exist=True) as store:
        current, entry = _current(store_url, store)
        held = _held(store_url, entry, line_rested_on(store, entry.id))
        since = {place_of(version.row): version for version in read_versions(store, since=held.line)}
        return Stored(store_url, current, entry, held, since, store.choices(), empty_tables(store.uploads()), accepted(store))


def _current(store_url: str, store: Store) -> tuple[Current, CalibrationEntry]:
    number, entries = store.current_id(), {entry.id: entry for entry in store.calibrations()}
    # Where there is none, reading it says why; a damaged one gives way to the last good one before it.
    current = read_current(store, None) if number is None else _loaded(store_url, entries[number])
    return current, entries[current.number]


@lru_cache(maxsize=1)
def _loaded(store_url: str, entry: CalibrationEntry) -> Current:
    """A calibration; its entry names it, should another store come to lie at the same place."""
    with Store.open(store_url, must_exist=True) as store:
        return read_current(store, None)


@lru_cache(maxsize=1)
def _held(store_url: str, entry: CalibrationEntry, line: int) -> Held:
    with Store.open(store_url, must_exist=True) as store:
        versions = {place_of(version.row): version for version in read_versions(store, line)}
        return Held(line, versions, store.choices(line))
