"""What a resin brings: filler in glass equivalents, and whether it corrodes steel."""

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

Array = np.ndarray

# How hard a per cent of filler wears, relative to one of glass. Judgement, from life multipliers of .65 for 20-40 % mineral
# against .30 for 30-35 % glass in pre-hardened steel: log .65 / 30 over log .30 / 33.
AS_GLASS = re.compile("G|CF|C$")  # ISO 1043-2: glass in any form, carbon fibre
MINERAL_SHARE = 0.4
DEFAULT_FILLER_SHARE = 0.7  # kind not stated: between mineral and glass, judgement

# Families whose decomposition attacks steel (PVC gives hydrogen chloride, POM formaldehyde): common practice.
CORROSIVE_FAMILIES = ("PVC", "POM", "CPVC", "PVDC", "PVC-U", "PVC-P")


@dataclass(frozen=True)
class Resins:
    """Resins in canonical order. Arrays of shape (resin,)."""

    resin_id: tuple[str, ...]
    filler: Array  # tens of per cent, glass equivalent
    corrosive: Array  # 0 or 1
    described: Array  # bool: the resins table has it


def is_corrosive(family: str) -> bool:
    """Whether a family of ISO 1043-1 symbols is corrosive where the owner has not said."""
    return any(family.upper() == f or family.upper().startswith(f + "-") for f in CORROSIVE_FAMILIES)


def filler_equivalent(pct: float, kind: str) -> float:
    """Filler in tens of per cent of glass. `kind` is an ISO 1043-2 symbol such as GF, MF or T, or blank."""
    if np.isnan(pct):
        return 0.0
    symbol = re.sub(r"[^A-Z]", "", kind.upper())
    share = DEFAULT_FILLER_SHARE if not symbol else 1.0 if AS_GLASS.match(symbol) else MINERAL_SHARE
    return share * pct / 10.0


def describe_resins(table: pd.DataFrame, resin_ids: tuple[str, ...]) -> Resins:
    """Covariates of the resins that the runs or the plan name; no filler and no acid where no row describes one."""
    index = {str(name): i for i, name in enumerate(table["resin_id"])}
    pct, corrosive_flag = table["filler_pct"].to_numpy(dtype=float), table["corrosive"].to_numpy(dtype=float)
    family, kind = table["family"].tolist(), table["filler_kind"].tolist()
    filler, corrosive, described = np.zeros(len(resin_ids)), np.zeros(len(resin_ids)), np.zeros(len(resin_ids), dtype=bool)
    for i, resin_id in enumerate(resin_ids):
        row = index.get(resin_id)
        if row is None:
            continue
        described[i] = True
        filler[i] = filler_equivalent(pct[row], str(kind[row]))
        corrosive[i] = float(is_corrosive(str(family[row]))) if np.isnan(corrosive_flag[row]) else corrosive_flag[row]
    return Resins(resin_ids, filler, corrosive, described)
