"""How the app was started: its store, and what its environment accepts."""

import os
from dataclasses import dataclass

from wearfit.store.address import store_path
from wearfit.workflow.settings import DEFAULT_STORE, HORIZON, TOLERANCE


@dataclass(frozen=True)
class Started:
    """Parameters
    ----------
    store : str
        Address of the store, absolute.
    horizon_years, tolerance : float or None
        Of the environment; go before the store's settings.
    """

    store: str
    horizon_years: float | None
    tolerance: float | None


def started() -> Started:
    """Read the environment, which `wearfit serve` sets.

    Raises
    ------
    Refusal
        Where the address or a setting makes no sense.
    """
    named = {name: os.environ.get(f"WEARFIT_{name}") for name in ("STORE", "HORIZON", "TOLERANCE")}
    horizon, tolerance = named["HORIZON"], named["TOLERANCE"]
    return Started(
        str(store_path(named["STORE"] or DEFAULT_STORE)),
        HORIZON.parse(horizon) if horizon else None,
        TOLERANCE.parse(tolerance) if tolerance else None,
    )
