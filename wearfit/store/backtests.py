"""Backtests that were made: kept as documents, so that the last one can be shown without a calibration; every one stays."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, insert, select

from wearfit.store.schema import backtests


@dataclass(frozen=True, slots=True)
class BacktestEntry:
    """A backtest to keep.

    Parameters
    ----------
    as_of : date
        Last day of the records that it looked at.
    fingerprint : str
        Of those records.
    model_version : str
    content : str
        The whole answer, as JSON.
    """

    as_of: date
    fingerprint: str
    model_version: str
    content: str


@dataclass(frozen=True, slots=True)
class StoredBacktest:
    """One that is kept, and when it was made, in UTC."""

    entry: BacktestEntry
    made_at: datetime


_COLUMNS = tuple(backtests.c[name] for name in ("as_of", "fingerprint", "model_version", "content"))


def add_backtest(connection: Connection, entry: BacktestEntry, at: datetime) -> None:
    """Keep a backtest; the earlier ones stay."""
    connection.execute(insert(backtests), {"made_at": at, **{column.name: getattr(entry, column.name) for column in _COLUMNS}})


def last_backtest(connection: Connection) -> StoredBacktest | None:
    """The newest backtest, None before the first one."""
    found = connection.execute(select(*_COLUMNS, backtests.c.made_at).order_by(backtests.c.id.desc()).limit(1)).first()
    return None if found is None else StoredBacktest(BacktestEntry(*found[:-1]), found.made_at)
