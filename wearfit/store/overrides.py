"""What an owner says of a tool beside the model's answer: kept with who, when and why; every one stays."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, func, insert, select

from wearfit.store.schema import overrides


@dataclass(frozen=True, slots=True)
class Override:
    """One judgement of an owner.

    Parameters
    ----------
    tool_id : str
        As the calibration names it.
    at : datetime
        When it was written down, in UTC.
    by : str
        Who says so.
    as_of : date
        The day that it speaks of.
    wear_out_on : date or None
        When the tool will wear out, in the owner's judgement.
    remaining_shots : int or None
        Machine shots that it will still make, in the owner's judgement. Where both are None, an earlier judgement is taken back.
    reason : str
    """

    tool_id: str
    at: datetime
    by: str
    as_of: date
    wear_out_on: date | None
    remaining_shots: int | None
    reason: str

    @property
    def says_nothing(self) -> bool:
        """Whether it takes an earlier one back."""
        return self.wear_out_on is None and self.remaining_shots is None


_COLUMNS = tuple(overrides.c[name] for name in ("tool_id", "at", "by", "as_of", "wear_out_on", "remaining_shots", "reason"))


def add_override(connection: Connection, override: Override) -> None:
    """Write a judgement down; the earlier ones stay."""
    connection.execute(insert(overrides), {column.name: getattr(override, column.name) for column in _COLUMNS})


def overrides_in_force(connection: Connection) -> list[Override]:
    """The newest judgement of each tool, in order of tools; none of those that were taken back."""
    newest = select(func.max(overrides.c.id)).group_by(overrides.c.tool_id)
    found = connection.execute(select(*_COLUMNS).where(overrides.c.id.in_(newest)).order_by(overrides.c.tool_id))
    return [override for override in (Override(*row) for row in found) if not override.says_nothing]


def overrides_of(connection: Connection, tool_id: str) -> list[Override]:
    """Every judgement of a tool, newest first, those taken back among them."""
    found = connection.execute(select(*_COLUMNS).where(overrides.c.tool_id == tool_id).order_by(overrides.c.id.desc()))
    return [Override(*row) for row in found]
