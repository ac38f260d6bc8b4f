"""Rows that came later laid over those at hand, table by table."""

from collections.abc import Collection, Iterable, Mapping
from itertools import compress

from wearfit.records.identity import Row
from wearfit.records.rows import Rows, TableRows, joined


def laid_over(rows: Rows, gone: Mapping[str, Collection[tuple[str, int]]], later: Iterable[Row]) -> Rows:
    """The rows without some of them and with others.

    Parameters
    ----------
    rows : Rows
    gone : mapping of str to collection of (str, int)
        By table: key and occurrence of rows that another version replaces or takes out.
    later : iterable of Row
        Behind those that stay.

    Returns
    -------
    Rows
        Tables that lose and gain no row are the same objects. Occurrences are not kept where rows were added: a row's place among
        those of its key is told anew from the rows in force.
    """
    added = {some.table: some for some in Rows.of(later).tables}
    kept = [_without(some, gone.get(some.table, ())) for some in rows.tables]
    tables = [joined([some, added.pop(some.table)]) if some.table in added else some for some in kept]
    return Rows((*tables, *added.values()))


def _without(rows: TableRows, gone: Collection[tuple[str, int]]) -> TableRows:
    if not gone:
        return rows
    stays = ((row.key, row.occurrence) not in gone for row in rows)
    return rows.take(list(compress(range(len(rows)), stays)))
