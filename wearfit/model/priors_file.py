"""The file of priors as it is written: entries looked up by name, and what is wrong with them refused by it."""

import math
import sys
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final

from wearfit.errors import Refusal
from wearfit.exposures.classes import STEELS
from wearfit.exposures.covariates import COVARIATES
from wearfit.model.layout import GROUPS, SHARES
from wearfit.records.coatings import COATINGS

FEATURE_ENTRIES: Final = ("level", "growth", "noise")
SWITCHES: Final = (
    "class_offset",
    "shape",
    "setup",
    *SHARES,
    *(f"steel.{s}" for s in STEELS),
    *(f"coating.{c}" for c in COATINGS),
    *(f"slope.{c.name}" for c in COVARIATES),
    *(f"group.{g}" for g in GROUPS),
    "undescribed_resin",
    "sudden.per_life",
    "sudden.per_handling",
    *(f"reading.{r}" for r in (*FEATURE_ENTRIES, "life", "life_growth")),
    "storage.rate",
    "storage.preserved",
    "storage.corrosivity",
)  # the entries that `off = true` switches off
BAND_KEYS: Final = ("floor", "probability", "cap", "share")  # a band may be edited from a cap into a floor


def own_priors_text() -> str:
    """The text of the priors file that ships with the package."""
    return files("wearfit.model").joinpath("priors.toml").read_text(encoding="utf-8")


class Entries:
    """Looks up numbers in parsed TOML, naming the entry where something is wrong; every method may raise Refusal."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self._data = data

    def entry(self, path: str) -> Mapping[str, Any]:
        node: Any = self._data
        parts = path.split(".")
        for depth, part in enumerate(parts, start=1):
            node = node.get(part)
            if not isinstance(node, dict):
                raise Refusal(
                    f"The priors file has no entry [{'.'.join(parts[:depth])}].",
                    "Start from the file that ships with wearfit and change its values.",
                    2,
                )
        return dict(node)

    def number(self, path: str, key: str, low: float = -math.inf, high: float = math.inf, open_low: bool = False) -> float:
        value = self.entry(path).get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
            raise Refusal(f"In the priors file, [{path}] needs a number `{key}`.", "Enter a number.", 2)
        if not low <= value <= high or (open_low and value == low):
            wanted = f"{'above' if open_low else 'of at least'} {low:g}" if math.isinf(high) else f"between {low:g} and {high:g}"
            raise Refusal(f"In the priors file, [{path}] {key} = {value:g} is out of range.", f"Enter a value {wanted}.", 2)
        return float(value)

    def text(self, path: str, key: str) -> str:
        value = self.entry(path).get(key)
        if not isinstance(value, str) or not value.strip():
            raise Refusal(f"In the priors file, [{path}] needs a text `{key}`.", "Write it between quotation marks.", 2)
        return value.strip()

    def positive(self, path: str, key: str) -> float:
        return self.number(path, key, 0.0, open_low=True)

    def is_off(self, path: str) -> bool:
        value = self.entry(path).get("off", False)
        if not isinstance(value, bool):
            raise Refusal(f"In the priors file, [{path}] off must be true or false.", "Write off = true or leave the line out.", 2)
        return value


def entries_of(text: str) -> Entries:
    """The entries of a TOML text.

    Raises
    ------
    Refusal
        Where it is no TOML, or has an entry that nothing reads: a misspelt one would be silently without effect.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise Refusal(f"The priors file is not valid TOML ({reason}).", "Mend the line named.", 2) from reason
    _refuse_unknown(data, _own_tables(), "")
    return Entries(data)


@cache
def _own_tables() -> Mapping[str, Any]:
    return tomllib.loads(own_priors_text())


def _refuse_unknown(given: Mapping[str, Any], own: Mapping[str, Any], path: str) -> None:
    for key, value in given.items():
        here = f"{path}.{key}" if path else key
        if key == "off" and path in SWITCHES:
            continue
        if key == "off" and path:
            raise Refusal(f"In the priors file, [{path}] cannot be switched off.", "Take the line out and change the values instead.", 2)
        if key not in own and not (path.startswith("band.") and key in BAND_KEYS):
            raise Refusal(
                f"The priors file has an entry that nothing reads: {here}.",
                "Check its spelling against the file that ships with wearfit.",
                2,
            )
        if isinstance(value, dict) and isinstance(own.get(key), dict):
            _refuse_unknown(value, own[key], here)
