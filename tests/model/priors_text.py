"""The priors file as nested tables, changed one place at a time and written again."""

import json
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any

from wearfit.model.priors_file import SWITCHES, own_priors_text

Place = tuple[str, ...]


def own_tables() -> dict[str, Any]:
    return tomllib.loads(own_priors_text())


def numbers(tables: Mapping[str, Any], under: Place = ()) -> Iterator[Place]:
    """Places of all numbers in nested tables."""
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from numbers(value, (*under, key))
        elif isinstance(value, int | float):
            yield (*under, key)


def value_at(tables: Mapping[str, Any], place: Place) -> Any:
    value: Any = tables
    for key in place:
        value = value[key]
    return value


def changed(*changes: tuple[Place, Any]) -> str:
    """The package's own priors with values put at places, or taken out where the value is None."""
    tables = deepcopy(own_tables())
    for place, value in changes:
        table = tables
        for key in place[:-1]:
            table = table.setdefault(key, {})
        if value is None:
            del table[place[-1]]
        else:
            table[place[-1]] = value
    return written(tables)


def written(tables: Mapping[str, Any], under: Place = ()) -> str:
    """Nested tables as TOML."""
    lines = [f"{key} = {_scalar(value)}" for key, value in tables.items() if not isinstance(value, dict)]
    text = "".join(f"{line}\n" for line in lines)
    for key, value in tables.items():
        if isinstance(value, dict):
            here = (*under, key)
            text += f"[{'.'.join(here)}]\n{written(value, here)}"
    return text


def _scalar(value: Any) -> str:
    return json.dumps(value) if isinstance(value, str | bool) else repr(value)


def switched_off(*entries: str) -> str:
    """The package's own priors with entries, named as in `SWITCHES`, switched off."""
    assert set(entries) <= set(SWITCHES)
    return changed(*(((*entry.split("."), "off"), True) for entry in entries))
