"""Draws of a tool that is yet to be cut: how many shots it will make in given conditions."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.exposures.classes import BANDED, CLASSES, PLATINGS, STEELS, USUAL_STEEL, setup_share, steel_group
from wearfit.forecasts.conditions import new_plant_sudden, new_plant_wear, new_resin_wear, position, read_conditions
from wearfit.forecasts.luck import Luck
from wearfit.records.coatings import COATINGS

Array = np.ndarray

SERVICE_CLASSES: Final = CLASSES[:BANDED]


@dataclass(frozen=True)
class Kind:
    """What a tool is to be, and where it is to run. Names as the calibration writes them.

    `steel` is the usual one of the class unless given; no `design_id` or `maker_id` is one of no family. `mix` holds the shares of
    the resins; `shots_per_run` is the fleet's median unless given.
    """

    service_class: str
    plant_id: str
    mix: Mapping[str, float]
    steel: str = ""
    coating: str = ""
    design_id: str = ""
    maker_id: str = ""
    shots_per_run: float | None = None


@dataclass(frozen=True)
class NewTool:
    """Draws of a tool that has not made a shot. Arrays of shape (sample,).

    `log_kind` is the log of the characteristic life of tools of its kind in the conditions ahead, `tool_sd` how far one tool lies
    from its kind: copies share the first and differ in the second. Wear per shot and set-ups are counted in.
    """

    name: str
    log_kind: Array  # [log machine shots]
    tool_sd: Array  # [log life]
    shape: law.Shape
    sudden_per_shot: Array  # expected sudden stops per machine shot, those of set-ups in it
    luck: Luck
    weights: Array  # of the draws
    new: tuple[str, ...] = ()  # names that no record rests on, taken from their population
    on_record: Mapping[str, float] = field(default_factory=dict)  # costs and the like that the records give, by input

    @property
    def samples(self) -> int:
        return len(self.log_kind)

    @cached_property
    def log_life(self) -> Array:
        """Log characteristic life of the first tool of its kind, shape (sample,). [log machine shots]"""
        return self.log_life_of_copy(0)

    def log_life_of_copy(self, copy: int) -> Array:
        """The same of one of several copies: they share all but the tool's own."""
        return np.asarray(self.log_kind + self.tool_sd * self.luck.normal_of_draws("own", copy))

    def shots_to_end(self, turn: int, copy: int = 0) -> Array:
        """Machine shots of a life from new to wear-out or a sudden stop, shape (sample, future); `turn` counts its cavity sets."""
        return np.minimum(self.shots_to_wear(turn, copy), self.shots_to_sudden(turn, copy))

    def shots_to_wear(self, turn: int, copy: int = 0) -> Array:
        """Machine shots to wear-out alone."""
        luck = self.luck.exponential(f"wear {copy}", turn)
        return np.asarray(law.wear_at(luck, self.log_life_of_copy(copy)[:, None], self.shape[:, None]))

    def shots_to_sudden(self, turn: int, copy: int = 0) -> Array:
        """Machine shots to a sudden stop alone."""
        return self.luck.exponential(f"sudden {copy}", turn) / np.maximum(self.sudden_per_shot, 1e-300)[:, None]

    def thinned(self, keep: Array) -> "NewTool":
        """With some of the draws, whose tools and futures are drawn anew."""
        return replace(
            self,
            log_kind=self.log_kind[keep],
            tool_sd=self.tool_sd[keep],
            shape=self.shape[keep],
            sudden_per_shot=self.sudden_per_shot[keep],
            luck=replace(self.luck, samples=len(keep)),
            weights=self.weights[keep],
        )


def new_tool(calibration: Calibration, kind: Kind, luck: Luck | None = None) -> NewTool:
    """Draws of a tool of some kind.

    Parameters
    ----------
    luck : Luck, optional
        Of the question; by default of this kind alone. Kinds that are compared share one.

    Raises
    ------
    Refusal
        Where the class, steel or coating is none, and where the mix holds no resin.
    """
    _refuse_unknown(kind)
    steel = kind.steel or USUAL_STEEL[SERVICE_CLASSES.index(kind.service_class)]
    usual = USUAL_STEEL[SERVICE_CLASSES.index(kind.service_class)]
    band = calibration.identity.log_band[SERVICE_CLASSES.index(kind.service_class)]
    offset = calibration.coefficient(f"class_offset.{kind.service_class}")
    log_life = band + offset + calibration.coefficient(f"steel.{steel}") - calibration.coefficient(f"steel.{usual}")
    if kind.coating:
        log_life = log_life + calibration.coefficient(f"coating.{kind.coating}")
    family, unseen = _family(calibration, kind)
    setups = _setups_per_shot(calibration, kind.shots_per_run)
    counted = float(setup_share(np.array(band))) * setups
    wear, sudden, new = _conditions(calibration, kind, steel_group(steel, kind.coating if kind.coating in PLATINGS else ""))
    wear = wear * (1.0 + np.exp(calibration.coefficient("log_setup")) * counted)
    per_shot = np.exp(calibration.coefficient("log_sudden_per_life") - band - offset)
    return NewTool(
        name=f"a new {kind.service_class} tool",
        log_kind=log_life + family - np.log(wear),
        tool_sd=_scale(calibration, "tool"),
        shape=calibration.shape,
        sudden_per_shot=sudden * (per_shot + np.exp(calibration.coefficient("log_sudden_per_handling")) * setups),
        luck=luck or Luck(calibration.identity.seed, repr(kind), calibration.samples),
        weights=np.ones(calibration.samples),
        new=(*new, *unseen),
        on_record=fleet_costs(calibration, kind.service_class),
    )


def fleet_costs(calibration: Calibration, service_class: str) -> dict[str, float]:
    """Medians of the costs and lead times on record for live tools of a class, by input; what no record gives is left out."""
    live = calibration.live
    of_class = live.service_class == position(calibration.levels.service_class, service_class)
    columns = {"replacement_cost": live.replacement_cost, "refurbish_cost": live.refurbish_cost, "lead_time_weeks": live.lead_time_weeks}
    known = {name: values[of_class & ~np.isnan(values)] for name, values in columns.items()}
    return {name: float(np.median(values)) for name, values in known.items() if len(values)}


def _refuse_unknown(kind: Kind) -> None:
    if kind.service_class not in SERVICE_CLASSES:
        raise Refusal(f"'{kind.service_class}' is no service class.", f"Name one of {', '.join(SERVICE_CLASSES)}.", 2)
    if kind.steel and kind.steel not in STEELS:
        raise Refusal(f"'{kind.steel}' is no cavity steel.", f"Name one of {', '.join(STEELS)}.", 2)
    if kind.coating and kind.coating not in COATINGS:
        raise Refusal(f"'{kind.coating}' is no coating that is known here.", f"Name one of {', '.join(COATINGS)}, or none.", 2)
    if not kind.mix or sum(kind.mix.values()) <= 0:
        raise Refusal("No resin was named.", "Name the resin that the tool is to run in.", 2)


def _conditions(calibration: Calibration, kind: Kind, group: int) -> tuple[Array, Array, tuple[str, ...]]:
    """Wear per shot, the factor on sudden stops, shapes (sample,), and the names that no record rests on."""
    conditions, levels = read_conditions(calibration), calibration.levels
    plant = position(levels.plant, kind.plant_id)
    by_plant = conditions.plant_wear[:, :, plant].mean(axis=0) if plant >= 0 else new_plant_wear(calibration, kind.plant_id)
    sudden = conditions.plant_sudden[:, plant] if plant >= 0 else new_plant_sudden(calibration, kind.plant_id)
    new = [] if plant >= 0 and calibration.plants.seen[plant] else [kind.plant_id]
    by_resin = np.zeros(calibration.samples)
    for resin_id, share in kind.mix.items():
        resin = position(levels.resin, resin_id)
        by_resin += share * (conditions.resin_wear[:, resin, group] if resin >= 0 else new_resin_wear(calibration, resin_id))
        if resin < 0 or not calibration.resins.seen[resin]:
            new.append(resin_id)
    return by_plant * by_resin / sum(kind.mix.values()), np.asarray(sudden), tuple(new)


def _family(calibration: Calibration, kind: Kind) -> tuple[Array, list[str]]:
    """What the design and the maker add to log life, shape (sample,), and which of them is new."""
    total, new = np.zeros(calibration.samples), []
    for group, name, known, draws in (
        ("design", kind.design_id, calibration.levels.design, calibration.draws.design),
        ("maker", kind.maker_id, calibration.levels.maker, calibration.draws.maker),
    ):
        if not name:
            continue
        at = position(known, name)
        if at >= 0:
            total += np.asarray(draws[:, at], dtype=float)
        else:
            total += _scale(calibration, group) * Luck(calibration.identity.seed, name, calibration.samples).normal_of_draws(group)
            new.append(name)
    return total, new


def _setups_per_shot(calibration: Calibration, shots_per_run: float | None) -> float:
    if shots_per_run is not None:
        return 1.0 / shots_per_run
    known = calibration.live.setups_per_shot[calibration.live.setups_per_shot > 0]
    return float(np.median(known)) if len(known) else 0.0


def _scale(calibration: Calibration, group: str) -> Array:
    return np.asarray(calibration.draws.scale[:, position(calibration.levels.group, group)], dtype=float)
