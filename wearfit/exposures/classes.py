"""Codes of the service classes and cavity steels, and which steel is usual where.

Source: the classes' hardness floors are those of the trade's Classifications of Injection Molds (48 HRC for 101
and 102, 28 HRC for 103); which alloy is usual within a floor is common practice.
"""

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

CLASSES: Final = ("101", "102", "103", "104", "105", "own_band")
OWN_BAND: Final = CLASSES.index("own_band")
BANDED: Final = 5  # how many of CLASSES are service classes; a tool of unknown class mixes these

STEELS: Final = ("prehard", "hard", "stainless", "aluminium", "copper_alloy")
USUAL_STEEL: Final = ("hard", "hard", "prehard", "aluminium", "aluminium")
# What the cavities may be cut in where nobody wrote it down, by class; how likely each is stands among the priors. Those that
# hardly occur are left out: each costs its share of every gradient.
POSSIBLE_STEELS: Final = (
    ("hard", "stainless"),
    ("hard", "stainless", "prehard"),
    ("prehard", "hard", "stainless"),
    ("aluminium", "prehard"),
    ("aluminium", "prehard"),
)

STEEL_GROUPS: Final = ("soft", "hard", "stainless", "soft_plated", "hard_plated")
GROUP_OF_STEEL: Final = {"prehard": "soft", "hard": "hard", "stainless": "stainless", "aluminium": "soft", "copper_alloy": "soft"}

PLATINGS: Final = ("chrome", "nickel")  # coatings that keep a corrosive resin from steel that is not stainless
PLATED: Final = {"soft": "soft_plated", "hard": "hard_plated"}

FULL_SETUP_LIFE: Final = 100_000.0  # [shots] characteristic life from which a set-up counts in full, judgement
HARD_FROM_HRC: Final = 44.0  # [HRC] judgement: between the 28 and 48 HRC floors, above the age-hardened 40 HRC grades


def steel_code(name: str) -> int:
    return STEELS.index(name)


def steel_group(steel: str, coating: str = "") -> int:
    """Index into STEEL_GROUPS of a cavity steel under a coating, "" for none."""
    group = GROUP_OF_STEEL[steel]
    return STEEL_GROUPS.index(PLATED.get(group, group) if coating in PLATINGS else group)


def recorded_steel(tools: "pd.DataFrame") -> list[str]:
    """Cavity steel of each tool as recorded, from the name or else the hardness; "" where neither is there.

    Parameters
    ----------
    tools : DataFrame, one row a tool
        With `cavity_steel` (text) and `hardness_hrc` [HRC].
    """
    by_hardness = np.where(tools["hardness_hrc"] >= HARD_FROM_HRC, "hard", "prehard")
    measured = tools["hardness_hrc"].notna().to_numpy()
    by_hardness = np.where(measured, by_hardness, "")
    return [str(name) or str(guess) for name, guess in zip(tools["cavity_steel"], by_hardness, strict=True)]


def class_codes(tools: "pd.DataFrame") -> np.ndarray:
    """Index into CLASSES of each tool, shape (tool,); -1 where neither class nor band is recorded."""
    named = np.array([CLASSES.index(str(c)) if str(c) in CLASSES else -1 for c in tools["service_class"]], dtype=np.int64)
    banded = (tools["band_low"].notna() | tools["band_high"].notna()).to_numpy()
    return np.where(banded, OWN_BAND, named)


def setup_share(log_bands: np.ndarray) -> np.ndarray:
    """Share of a full set-up's cost that counts for tools of these bands, in 0..1.

    The cost is stated in shots of a production tool; one of a few hundred shots, which a single such set-up would
    consume, pays in proportion to its band (judgement).
    """
    return np.minimum(1.0, np.exp(log_bands) / FULL_SETUP_LIFE)
