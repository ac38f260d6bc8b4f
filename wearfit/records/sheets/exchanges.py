"""Days whose day and month a program exchanged: it made dates of those texts that it could, and left the others as texts.

Days written day first and opened by a program that expects the month first: 05/04/2023, the fifth of April, becomes the fourth of
May; 15/05/2023 is no date to it and stays. The other way round the same.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from wearfit.records.choices import DateOrder
from wearfit.records.findings import Finding, Severity
from wearfit.records.readers.grid import Cell
from wearfit.records.sheets.columns import TypedColumn, as_text, held_days
from wearfit.records.sheets.dates import DMY, MDY, YMD, Moment, exchanged
from wearfit.records.sheets.deciding import Own
from wearfit.records.sheets.marks import cells_of
from wearfit.records.sheets.reading import Exchange, order_words

MOST: Final = 12  # a day above is no month
# Different days that a file holds of which none is above: by chance one time in sixteen, and less often beside texts that are all above.
LEAST_HELD: Final = 3
LEAST_DAYS: Final = 2  # of the month among them: days that are all the first are months, not exchanged; judgement
LEAST_ROWS: Final = 2  # rows with two days, of which one at least may be exchanged, for them to tell; judgement
NEARER: Final = 3  # times as near together the two days of those rows must lie one way as the other; judgement

# Days of one row that lie near together.
_NEAR: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "runs": (("started_on", "ended_on"),),
    "events": (("last_good_on", "date"), ("date", "back_on"), ("date", "due_on")),
}


@dataclass(frozen=True)
class _Suspect:
    """A column whose texts, if any, have only days above 12, and whose held days are all of 12 or less."""

    place: int
    own: Own[DateOrder]
    held: Mapping[Cell, str]
    choice: DateOrder | None

    @property
    def column(self) -> TypedColumn:
        return self.own.column


def exchanges_of(owns: Sequence[Own[DateOrder]], choices: Sequence[DateOrder | None]) -> dict[int, tuple[Exchange, list[Finding]]]:
    """Tell the columns of days of an upload that were made half by a program that exchanges day and month.

    Parameters
    ----------
    owns : sequence of Own
        What each column says of itself, before any choice.
    choices : sequence of DateOrder or None
        What the user has chosen for each: the order of its texts, and the held days are exchanged back; year month day, and they
        are read as they stand.

    Returns
    -------
    dict of int to (Exchange, list of Finding)
        By the place of the column; others are in order.

    Notes
    -----
    A day that the file holds and one that was typed year first look the same once a workbook was saved as text, so both count.
    """
    of_region: dict[int, list[int]] = {}
    for place, own in enumerate(owns):
        of_region.setdefault(id(own.column.region), []).append(place)
    found: dict[int, tuple[Exchange, list[Finding]]] = {}
    for places in of_region.values():
        suspects = list(_suspects(places, owns, choices))
        mixed = [suspect for suspect in suspects if suspect.own.fits]
        orders = {suspect.own.way for suspect in mixed}
        held = {day[:10] for suspect in mixed for day in suspect.held.values()}
        if len(orders) != 1 or len(held) < LEAST_HELD or len({day[8:] for day in held}) < LEAST_DAYS:
            continue
        (order,) = orders
        by_rows = _by_rows([owns[place] for place in places], [suspect.place for suspect in suspects], places)
        for suspect in suspects:
            exchange = _chosen(suspect.choice, order) or by_rows
            found[suspect.place] = exchange, _told(suspect, mixed[0], order or DMY, exchange)
    return found


def _suspects(places: Sequence[int], owns: Sequence[Own[DateOrder]], choices: Sequence[DateOrder | None]) -> Iterator[_Suspect]:
    for place in places:
        own = owns[place]
        held = held_days(own.column)
        in_one_order = not own.fits or (own.way in (DMY, MDY) and all(ways - {YMD} == {own.way} for ways in own.fits.values()))
        if held and in_one_order and all(int(day[8:10]) <= MOST for day in held.values()):
            yield _Suspect(place, own, held, choices[place])


def _chosen(choice: DateOrder | None, order: DateOrder | None) -> Exchange | None:
    if choice is None:
        return None
    return "exchanged back" if choice == order else "as they stand"


def _by_rows(owns: Sequence[Own[DateOrder]], suspects: Sequence[int], places: Sequence[int]) -> Exchange:
    """What the rows tell: a run or a repair takes days or weeks, and months where one of its two days is exchanged."""
    standing, back = (
        {own.column.column.name: _days(own, exchange and place in suspects) for own, place in zip(owns, places, strict=True)}
        for exchange in (False, True)
    )
    apart: list[tuple[int, int]] = []
    for first, last in _NEAR.get(owns[0].column.region.table.name, ()):
        if first in standing and last in standing:
            rows = zip(standing[first], standing[last], back[first], back[last], strict=True)
            apart += [(_apart(*row[:2]), _apart(*row[2:])) for row in rows if all(row) and row[:2] != row[2:]]
    as_they_stand, exchanged_back = (sum(days) for days in zip(*apart, strict=True)) if len(apart) >= LEAST_ROWS else (1, 1)
    if as_they_stand >= NEARER * exchanged_back:
        return "exchanged back"
    return "as they stand" if exchanged_back >= NEARER * as_they_stand else "open"


def _apart(first: str, last: str) -> int:
    """Days from one day to another, both counted, whichever comes first."""
    return abs((dt.date.fromisoformat(last) - dt.date.fromisoformat(first)).days) + 1


def _days(own: Own[DateOrder], exchange: bool) -> Sequence[str]:
    """Day of each row, "" where it is not known."""
    held = held_days(own.column)
    days = []
    for cell in own.column.cells.distinct:
        moment = own.column.moments.get(cell)
        if cell in held:
            days.append(exchanged(held[cell])[:10] if exchange else held[cell][:10])
        elif isinstance(moment, Moment):
            days.append(moment.day or (moment.by_order.get(own.way, "") if own.way else ""))
        else:
            days.append("")
    return list(own.column.cells.spread(days))


def _told(suspect: _Suspect, mixed: _Suspect, order: DateOrder, exchange: Exchange) -> list[Finding]:
    """The finding about a column, none where it is read as it stands."""
    if exchange == "as they stand":
        return []
    column, table = suspect.column, suspect.column.region.table.name
    doubtful = [cell for cell in column.cells.distinct if cell in suspect.held and exchanged(suspect.held[cell]) != suspect.held[cell]]
    if not doubtful:
        return []
    name, first = column.column.name, doubtful[0]
    stands = suspect.held[first][:10]
    other = exchanged(stands)
    shows = mixed.own.shows
    typed = "" if shows is None else f", such as {as_text(shows)} in row {mixed.column.first_row(shows)} of {mixed.column.column.name}"
    row, count = column.first_row(first), cells_of(column.cells.count(set(doubtful)))
    why = (
        f"No day of what {name} holds as dates is above {MOST} ({count}), and every day left as text{typed}, is: a spreadsheet that "
        f"does not expect {order_words(order)} has most likely exchanged day and month"
    )
    severity: Severity = "set_aside" if exchange == "open" else "repaired"
    if exchange == "open":
        problem = f"{why}. Row {row} is {stands} as it stands and {other} if so, and nothing in the records tells which."
        repair = f'Choose under [dates.{table}]: {name} = "{order}" to exchange them back, or "{YMD}" to read them as they stand.'
    else:
        because = "as you chose" if suspect.choice else "for so the two days of a row lie near together, and as they stand far apart"
        problem = f"{why}; they are exchanged back, {because}: {stands} in row {row} is read as {other}."
        repair = f'Nothing needs doing if that is right; if not, choose under [dates.{table}]: {name} = "{YMD}".'
    return [Finding(table, None, name, as_text(first), problem, repair, severity, column.region.grid.source)]
