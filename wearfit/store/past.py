"""A store as it stood after a line of its history, and bringing that state back: as new versions, so that nothing is lost."""

from dataclasses import dataclass

from sqlalchemy import Connection

from wearfit.errors import Refusal
from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.store import calibrations, choices, settings
from wearfit.store.history import Entry, check_line
from wearfit.store.versions import Newest, Place, bring_back, newest_versions, place_of


@dataclass(frozen=True, slots=True)
class PastState:
    """What a store held, and what answered, after a line of its history.

    Parameters
    ----------
    rows : tuple of Row
        Those in force, in the order of `Store.rows`.
    choices : Choices
    settings : dict of str to str
    calibration : int or None
        The one that was current.
    """

    rows: tuple[Row, ...]
    choices: Choices
    settings: dict[str, str]
    calibration: int | None


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restoration did.

    Parameters
    ----------
    line : int or None
        Its own line of the history; None where nothing differed.
    before : int
        The last line before it, whose state would bring back what was there.
    back, withdrawn : int
        Rows brought back as they were, and rows that were not there then.
    choices : bool
        Whether the choices changed.
    settings : tuple of str
        Names of those that changed.
    calibration : int or None
        The one that answers now.
    kept_calibration : str
        Why the calibration of then does not answer, "" where it does or there was none.
    """

    line: int | None
    before: int
    back: int
    withdrawn: int
    choices: bool
    settings: tuple[str, ...]
    calibration: int | None
    kept_calibration: str


def state_after(connection: Connection, line: int) -> PastState:
    """The state after a line; `Refusal` with status 2 where there is no such line."""
    check_line(connection, line)
    rows = tuple(row for row, version in newest_versions(connection, up_to=line) if not version.withdrawn)
    return PastState(
        rows,
        choices.read_choices(connection, line),
        settings.read_settings(connection, line),
        calibrations.current_id(connection, line),
    )


def restore(connection: Connection, line: int, entry: Entry) -> Restored:
    """Bring the state after a line back.

    Owners' judgements, backtests and calibrations are no records: all of them stay. The calibration that was current then is made
    current again, unless it is damaged; where none was, the one that is current stays.

    Parameters
    ----------
    entry : Entry
        The line of the restoration itself.
    """
    before_it = check_line(connection, line)
    now: dict[Place, tuple[Row, Newest]] = {place_of(row): (row, version) for row, version in newest_versions(connection)}
    then = {place_of(row): (row, version) for row, version in newest_versions(connection, up_to=line)}
    back, withdrawn = bring_back(connection, now, then, entry)
    chosen, before = choices.read_choices(connection, line), choices.read_choices(connection)
    choices.keep_choices(connection, chosen, entry, anew=True)
    wanted, has = settings.read_settings(connection, line), settings.read_settings(connection)
    changed = tuple(name for name in sorted({*wanted, *has}) if wanted.get(name) != has.get(name))
    for name in changed:
        settings.write_setting(connection, name, wanted.get(name), entry)
    number, current, why = calibrations.current_id(connection, line), calibrations.current_id(connection), ""
    if number is not None and number != current:
        try:
            calibrations.make_current(connection, number, entry)
        except Refusal as refusal:
            why = refusal.problem
        else:
            current = number
    line_of_its_own = entry.line if entry.written else None
    return Restored(line_of_its_own, before_it, back, withdrawn, chosen.to_json() != before.to_json(), changed, current, why)
