"""Options that several commands take."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter, Token

from wearfit.errors import Refusal
from wearfit.workflow.settings import DEFAULT_STORE, HORIZON, KEEP_WARM, SEED, TOLERANCE, UNNOTICED


@Parameter(name="*")
@dataclass(frozen=True)
class Common:
    """What every command takes."""

    store: Annotated[str | None, Parameter(env_var="WEARFIT_STORE", metavar="URL")] = None
    """The store: a path, sqlite:///PATH or postgresql+psycopg://USER@HOST/DATABASE. By default wearfit.db in the working folder."""

    json: bool = False
    """Print one JSON document and nothing else."""

    @property
    def store_url(self) -> str:
        return DEFAULT_STORE if self.store is None else self.store


def _read_by[T](parse: Callable[[str], T]) -> Callable[[Any, Sequence[Token]], T]:
    """The same sentence for a value whether it comes from the command line, the environment or the store."""
    return lambda _, tokens: parse(tokens[0].value)


def day(text: str) -> dt.date:
    """A day as ISO 8601 writes it; `Refusal` with status 2 where it is none."""
    try:
        if len(text) == len("2026-06-30"):
            return dt.date.fromisoformat(text)
    except ValueError:
        pass
    raise Refusal(f"'{text}' is not a day of the calendar written as 2026-06-30.", "Write it as year-month-day.", 2)


Day = Annotated[dt.date | None, Parameter(converter=_read_by(day), metavar="DATE")]
Horizon = Annotated[float | None, Parameter(converter=_read_by(HORIZON.parse), env_var="WEARFIT_HORIZON", metavar="YEARS")]
Tolerance = Annotated[float | None, Parameter(converter=_read_by(TOLERANCE.parse), env_var="WEARFIT_TOLERANCE", metavar="P")]
Unnoticed = Annotated[float | None, Parameter(converter=_read_by(UNNOTICED.parse), env_var="WEARFIT_UNNOTICED", metavar="P")]
Seed = Annotated[int | None, Parameter(converter=_read_by(SEED.parse), env_var="WEARFIT_SEED", metavar="N")]
KeepWarm = Annotated[float, Parameter(converter=_read_by(KEEP_WARM.parse), env_var="WEARFIT_KEEP_WARM", metavar="MINUTES")]
ChoicesFile = Annotated[Path | None, Parameter(env_var="WEARFIT_CHOICES", metavar="FILE.toml")]
ReadingsFile = Annotated[Path | None, Parameter(metavar="FILE.csv")]
ClusterAddress = Annotated[str | None, Parameter(metavar="ADDRESS")]
ProcessCount = Annotated[int | None, Parameter(metavar="N")]
