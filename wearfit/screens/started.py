"""How the app was started: its store, and what its environment accepts."""

import os
from dataclasses import dataclass

from wearfit.store.address import address_of
from wearfit.workflow.settings import DEFAULT_STORE, HORIZON, TOLERANCE


@dataclass(frozen=True)
class Started:
    """Parameters
    ----------
    store : str
        Address of the store, absolute; may hold a password.
    horizon_years, tolerance : float or None
        Of the environment; go before the store's settings.
    """

    store: str
    horizon_years: float | None
    tolerance: float | None

    @property
    def shown(self) -> str:
        """The store's address as it may be shown."""
        return str(address_of(self.store))


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
        address_of(named["STORE"] or DEFAULT_STORE).url,
        HORIZON.parse(horizon) if horizon else None,
        TOLERANCE.parse(tolerance) if tolerance else None,
    )
