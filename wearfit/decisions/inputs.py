"""What a calculator is told: costs, shares and times, each with its unit, its meaning, where it comes from and what it may be.

An input is plain data, so that a command makes an option of it and a screen a field, and nothing is said twice.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from wearfit.errors import Refusal

# Where a value comes from, in the words shown.
JUDGEMENT: Final = "judgement"
COMMON: Final = "common practice, not looked up"
PUBLISHED: Final = "published, source not at hand, treated as judgement"
ON_RECORD: Final = "on record"
YOURS: Final = "yours"

MONEY: Final = "money"
YES_NO: Final = "yes or no"  # as 1 or 0
NO_LIMIT: Final = 1e15


@dataclass(frozen=True)
class ShareOf:
    """A default that follows another input: so many times its value."""

    name: str
    share: float

    @property
    def words(self) -> str:
        """To stand before what it follows: "0.2 x", "1/24 of", "as"."""
        if self.share == 1.0:
            return "as"
        parts = round(1.0 / self.share)
        # A share that no short decimal gives, such as that of a month in two years.
        whole = f"{self.share:.3g}" != f"{self.share:g}" and math.isclose(parts * self.share, 1.0)
        return f"1/{parts} of" if whole else f"{self.share:g} x"


@dataclass(frozen=True)
class Input:
    """One input.

    Parameters
    ----------
    name : str
        In JSON; with hyphens for underscores the option of the command.
    default : float or ShareOf
        Stands where neither the records nor the user give a value. None: one of them must.
    unit : str
        "money" for amounts in the one currency of the store; "share"; "yes or no", told as 1 or 0.
    label, meaning : str
        A few words for a form or a table; a sentence of help.
    mark : str
        Where the default comes from: one of the words above.
    low, high : float
        What is possible, both inclusive; anything else is refused.
    doubt : float
        By what factor the value may well be off, in both directions; it is tried at both ends. 1: it is not tried.
    likely : tuple of float, optional
        Tried at these ends instead.
    whole : bool
        Whether it counts something.
    """

    name: str
    default: float | ShareOf | None
    unit: str
    label: str
    meaning: str
    mark: str = JUDGEMENT
    low: float = 0.0
    high: float = NO_LIMIT
    doubt: float = 1.0
    likely: tuple[float, float] | None = None
    whole: bool = False

    @property
    def option(self) -> str:
        """The option of the command."""
        return "--" + self.name.replace("_", "-")

    def checked(self, value: float) -> float:
        """The value, where it is possible.

        Raises
        ------
        Refusal
            With what to change.
        """
        if not self.low <= value <= self.high or (self.whole and value != round(value)):
            what = "a whole number" if self.whole else "a number"
            limits = f"of {_plain(self.low)} or more" if self.high >= NO_LIMIT else f"between {_plain(self.low)} and {_plain(self.high)}"
            raise Refusal(f"{self.label} ({self.option}) cannot be {_plain(value)}.", f"Give {what} {limits}{self._in_unit()}.", 2)
        return float(value)

    def _in_unit(self) -> str:
        return f" [{self.unit}]" if self.unit else ""


@dataclass(frozen=True)
class Known:
    """An input with its value, and where that comes from."""

    input: Input
    value: float
    mark: str

    @property
    def ends(self) -> tuple[float, float]:
        """Between which values it may well lie; the value twice where it is not tried."""
        given = self.input
        low, high = given.likely or (self.value / given.doubt, self.value * given.doubt)
        low, high = max(min(low, self.value), given.low), min(max(high, self.value), given.high)
        return (float(round(low)), float(round(high))) if given.whole else (low, high)

    def as_json(self) -> dict[str, Any]:
        given = self.input
        return {
            "name": given.name, "label": given.label, "value": self.value, "unit": given.unit, "meaning": given.meaning, "mark": self.mark,
            "low": given.low, "high": None if given.high >= NO_LIMIT else given.high, "likely": list(self.ends),
        }  # fmt: skip


@dataclass(frozen=True)
class Values:
    """The inputs of a calculator, filled in. `values["name"]` is a number."""

    known: tuple[Known, ...]

    def __getitem__(self, name: str) -> float:
        return self.of(name).value

    def of(self, name: str) -> Known:
        """An input with its value and mark."""
        return next(k for k in self.known if k.input.name == name)

    def with_value(self, name: str, value: float) -> "Values":
        """The same with another value of one input; those that follow it stay as they are."""
        return Values(tuple(replace(k, value=value) if k.input.name == name else k for k in self.known))


def fill(inputs: Sequence[Input], on_record: Mapping[str, float], given: Mapping[str, float]) -> Values:
    """The value of each input: what the user gives, else what the records give, else its default.

    Raises
    ------
    Refusal
        Where a name is no input, a value impossible or a value without a default not given.
    """
    by_name = {i.name: i for i in inputs}
    for name in given:
        if name not in by_name:
            raise Refusal(f"There is no input '{name}'.", f"The inputs are {', '.join(by_name)}.", 2)
    return Values(tuple(_known(item, by_name, on_record, given) for item in inputs))


def unless_given(item: Input, inputs: Sequence[Input], on_record: Mapping[str, float], given: Mapping[str, float]) -> Known:
    """What stands for one input where the user does not give it, with what they give of the others; refuses as `fill` does."""
    others = {name: value for name, value in given.items() if name != item.name}
    return _known(item, {i.name: i for i in inputs}, on_record, others)


def _known(item: Input, by_name: Mapping[str, Input], on_record: Mapping[str, float], given: Mapping[str, float]) -> Known:
    if item.name in given:
        return Known(item, item.checked(given[item.name]), YOURS)
    if item.name in on_record:
        return Known(item, item.checked(on_record[item.name]), ON_RECORD)
    if isinstance(item.default, ShareOf):
        of = _known(by_name[item.default.name], by_name, on_record, given)
        return Known(item, item.checked(item.default.share * of.value), f"{item.mark}: {item.default.words} {of.input.label.lower()}")
    if item.default is None:
        raise Refusal(f"{item.label} is not on record.", f"Give it with {item.option}.", 2)
    return Known(item, item.checked(item.default), item.mark)


def _plain(value: float) -> str:
    return f"{value:,.6g}" if abs(value) < 1e6 else f"{value:,.0f}"


DISCOUNT_RATE: Final = Input(
    "discount_rate", 0.08, "a year", "Discount rate",
    "What money a year later is worth less: interest and the risk of the business. 0 counts all years alike.", high=1.0, likely=(0.0, 0.15),
)  # fmt: skip
REPLACEMENT_COST: Final = Input(
    "replacement_cost", None, MONEY, "Price of a new tool", "What a replacement of the whole tool costs, sampling included.", doubt=1.3,
)  # fmt: skip
REFURBISH_COST: Final = Input(
    "refurbish_cost", ShareOf("replacement_cost", 0.12), MONEY, "Price of a refurbishment",
    "Weld, recut, polish or plate what is worn; 5-15 % of a new tool.", doubt=1.5,
)  # fmt: skip
RETOOL_COST: Final = Input(
    "retool_cost", ShareOf("replacement_cost", 0.55), MONEY, "Price of a new cavity set",
    "A full set of cavities in the old base; 40-70 % of a new tool.", doubt=1.3,
)  # fmt: skip
LEAD_TIME: Final = Input(
    "lead_time_weeks", 10.0, "weeks", "Lead time", "Median weeks from order to a tool that is approved, freight left out.",
    PUBLISHED, high=260.0, doubt=1.5,
)  # fmt: skip
STOP_COST: Final = Input(
    "stop_cost", ShareOf("replacement_cost", 0.2), MONEY, "Cost of an unplanned stop",
    "What one wear-out in the middle of a run costs beside the weeks without a tool: sorting, scrap, rush work, freight.", doubt=3.0,
)  # fmt: skip
GAP_COST: Final = Input(
    "gap_cost_per_week", ShareOf("replacement_cost", 0.1), "money a week", "Cost of a week without a tool",
    "Margin lost and penalties for each week in which the parts are wanted and no tool can make them.", doubt=3.0,
)  # fmt: skip
SHOTS_PER_MONTH: Final = Input(
    "shots_per_month", None, "shots a month", "Use", "Machine shots a month that the tool is to make.", low=0.001, high=1e8, doubt=1.3,
)  # fmt: skip
PLANNED_SHOTS: Final = Input(
    "planned_shots", None, "shots", "Planned volume", "Machine shots that are still to be made with this tool.", low=1.0, doubt=1.5
)
PLANNED_WEEK_COST: Final = Input(
    "planned_week_cost", ShareOf("gap_cost_per_week", 0.25), "money a week", "Cost of a planned week without the tool",
    "The same for weeks that were planned, most of which stock made ahead can cover.", doubt=3.0,
)  # fmt: skip
RETOOL_WEEKS: Final = Input(
    "retool_weeks", 8.0, "weeks", "Weeks of a retool", "Weeks without the tool, transport included.", high=104.0, doubt=1.5,
)  # fmt: skip
STORAGE_COST: Final = Input(
    "storage_cost_per_month", 50.0, "money a month", "Storage", "Rack, insurance and handling of a tool that stands, a month.", PUBLISHED,
    doubt=2.5,
)  # fmt: skip
