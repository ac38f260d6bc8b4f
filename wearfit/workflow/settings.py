"""Settings and where they come from: what was given, else the store's own, else the default."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from wearfit.errors import Refusal

if TYPE_CHECKING:
    from wearfit.store.store import Store

DEFAULT_STORE: Final = "wearfit.db"  # in the working folder
BACKTEST_MONTHS: Final = 12  # after each past day, in which runs are asked about
LONGEST_WARM: Final = 1440.0  # minutes, a day
LARGEST_SEED: Final = 2**63 - 1  # what the store's integer columns hold


@dataclass(frozen=True)
class Setting[T]:
    """A value that an owner may set once for a store.

    Parameters
    ----------
    name : str
        In the store; the option's name on the command line, and with WEARFIT_ before it in the environment.
    default : T
    parse : callable
        From text; raises `Refusal` with status 2 where it means nothing.
    """

    name: str
    default: T
    parse: Callable[[str], T]

    def chosen(self, given: T | None, store: "Store") -> T:
        """What was given, else what the store says, else the default."""
        if given is not None:
            return given
        kept = store.setting(self.name)
        return self.default if kept is None else self.parse(kept)


def _number(name: str, text: str, low: float, high: float, unit: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low < value < high:
        raise Refusal(
            f"The {name} '{text}' is not {unit} between {low:g} and {high:g}.", f"Give one, such as --{name} {(low + high) / 10:g}.", 2
        )
    return value


def _horizon(text: str) -> float:
    return _number("horizon", text, 0, 100, "a number of years")


def _tolerance(text: str) -> float:
    return _number("tolerance", text, 0, 1, "a probability")


def _unnoticed(text: str) -> float:
    return _number("unnoticed", text, 0, 1, "a probability")


def _seed(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) <= LARGEST_SEED):
        raise Refusal(f"The seed '{text}' is not a whole number from 0 up.", "Give one, such as --seed 7.", 2)
    return int(text)


def _keep_warm(text: str) -> float:
    try:
        minutes = float(text)
    except ValueError:
        minutes = float("nan")
    if not 0 <= minutes <= LONGEST_WARM:
        raise Refusal(f"'{text}' is not a number of minutes from 0 to {LONGEST_WARM:.0f}.", "Give one, such as --keep-warm 30.", 2)
    return minutes


HORIZON: Final = Setting("horizon", 10.0, _horizon)  # how far ahead dates are named [years]
TOLERANCE: Final = Setting("tolerance", 0.1, _tolerance)  # accepted chance of no usable tool before the replacement arrives
UNNOTICED: Final = Setting("unnoticed", 0.05, _unnoticed)  # accepted chance that a tool wears out before anybody looks at it
SEED: Final = Setting("seed", 1, _seed)
PRIORS: Final = Setting[Path | None]("priors", None, Path)  # an owner's copy of the priors file; None is the package's own
KEEP_WARM: Final = Setting("keep-warm", 0.0, _keep_warm)  # of the machine, not of a store: how long a worker stays after its last use [min]
SETTINGS: Final = (HORIZON, TOLERANCE, UNNOTICED, SEED, PRIORS)
