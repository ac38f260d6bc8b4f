"""Inspection measurements of simulated tools, which grow with the share of the life's capacity that is spent."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wearfit.demo.career import Career
from wearfit.demo.walk import Row, iso

NOISE_DF = 4.0


@dataclass(frozen=True, slots=True)
class Feature:
    """A measured feature: log z = level + life's own + growth * log(spent / capacity) + noise, z = 0 new, 1 at its limit."""

    name: str
    new_value: float
    limit: float
    resolution: float
    level: float
    growth: float
    life_sd: float
    growth_sd: float
    noise: float


# Limits: flash .13 mm high and a vestige of .25 mm are common workmanship limits; the rest is invented.
FEATURES = (
    Feature("flash_mm", 0.0, 0.13, 0.01, 0.0, 1.3, 0.15, 0.15, 0.10),
    Feature("gate_vestige_mm", 0.0, 0.25, 0.02, -0.1, 1.0, 0.15, 0.10, 0.12),
    Feature("core_pin_mm", 8.0, 7.94, 0.001, -0.05, 1.1, 0.15, 0.15, 0.08),
)


def take_readings(career: Career, rng: np.random.Generator) -> list[Row]:
    """Readings of one tool, each of one or two features at about every second run's end."""
    rows: list[Row] = []
    chosen = [FEATURES[i] for i in sorted(rng.choice(len(FEATURES), size=int(rng.integers(1, 3)), replace=False).tolist())]
    own: dict[tuple[int, str], tuple[float, float]] = {}
    for check in career.checks:
        if rng.random() < 0.5:
            continue
        for feature in chosen:
            key = (check.life, feature.name)
            if key not in own:
                own[key] = float(rng.normal(0.0, feature.life_sd)), float(rng.normal(feature.growth, feature.growth_sd))
            level, growth = own[key]
            noise = feature.noise * float(rng.standard_t(NOISE_DF))
            z = math.exp(feature.level + level + growth * math.log(check.spent / check.capacity) + noise)
            rows.append(_reading(career.tool.tool_id, check.day, feature, feature.new_value + z * (feature.limit - feature.new_value)))
    return rows


def _reading(tool_id: str, day: int, feature: Feature, value: float) -> Row:
    places = max(0, -math.floor(math.log10(feature.resolution)))
    rounded = feature.resolution * round(value / feature.resolution)
    below = abs(value - feature.new_value) < feature.resolution and feature.new_value == 0.0
    return {
        "tool_id": tool_id,
        "date": iso(day),
        "feature": feature.name,
        "value": f"<{feature.resolution:.{places}f}" if below else f"{rounded:.{places}f}",
        "limit": f"{feature.limit:g}",
        "new_value": f"{feature.new_value:g}",
        "resolution": f"{feature.resolution:g}",
    }


def feature_truth(features: Iterable[Feature] = FEATURES) -> dict[str, dict[str, float]]:
    """True parameters of the readings by feature."""
    return {
        f.name: {"level": f.level, "growth": f.growth, "life_sd": f.life_sd, "growth_sd": f.growth_sd, "noise": f.noise} for f in features
    }
