"""A calibration put together: draws, and with them all that an answer needs of the history that they are of."""

from typing import Any, Final

import numpy as np

from wearfit.calibration import (
    STORAGE_QUANTILES,
    Calibration,
    DesignTable,
    Draws,
    FeaturePopulation,
    Identity,
    Levels,
    LiveTable,
    PlantTable,
    PriorDraws,
    ReadingTable,
    ReadTable,
    ResinTable,
    TrailTable,
)
from wearfit.exposures.classes import CLASSES, setup_share
from wearfit.exposures.covariates import columns, spreads
from wearfit.exposures.live import STATUSES, LiveTools
from wearfit.exposures.places import calendar_months, plant_levels, unknown_plant
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS, Shape
from wearfit.model.bands import band_offsets, class_log_band, life_spread
from wearfit.model.data import CandidateColumns, ModelData, ReadingColumns
from wearfit.model.flat_draws import Flat, Laid
from wearfit.model.group_effects import group_effects
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES, Layout
from wearfit.model.levels_seen import levels_seen
from wearfit.model.noted import noted_table
from wearfit.model.posterior import Rows
from wearfit.model.priors import Priors
from wearfit.model.storage import moved_by_storage, storage_share
from wearfit.model.trail import Trail, build_trail
from wearfit.remaining import NODES, packed

Array = np.ndarray

PRIOR_DRAWS: Final = 500
LOG_SHAPE: Final = COEFFICIENTS.index("log_shape")


def assemble(
    exposures: Exposures,
    live: LiveTools,
    fingerprint: str,
    priors: Priors,
    seed: int,
    data: ModelData,
    layout: Layout,
    flat: Flat | Laid,
    rows: Rows,
    diagnostics: dict[str, Any],
    wear_law: int,
    law_chosen: str,
    *,
    explained: bool = True,
) -> Calibration:
    """A calibration from draws of the parameters and what each row of the likelihood comes to for them.

    Parameters
    ----------
    exposures, live, fingerprint
        Of the same records.
    diagnostics : dict
        What the gate says of the draws, as `Diagnostics.as_dict` gives it.
    wear_law : int
        Place in `law.LAWS`.
    law_chosen : str
        Why this law, in a sentence.
    explained : bool
        Whether it is told what moved the forecasts (readings, storage) and how wear came over time, which places readings that are
        newer than the calibration. Dates do not hang on it.
    """
    tools, climate, seen = exposures.tools, exposures.climate, levels_seen(exposures)
    level, spread = columns(plant_levels(climate)), spreads(plant_levels(climate))
    unknown = unknown_plant()
    season = columns(calendar_months(climate)).reshape(len(exposures.plant_ids), 12, -1)
    parameters, scales = flat.all_parameters(data, layout), flat.scales(data)
    effects = group_effects(parameters, scales, layout, exposures, priors, level, spread, seed)
    offsets = band_offsets(priors)
    rng = np.random.default_rng([seed, 7])
    by_class = class_log_band(priors, offsets)
    shape = Shape(np.exp(parameters.all[:, LOG_SHAPE]), wear_law)
    bands = data.candidate[:, CandidateColumns.band]
    features, moved = len(exposures.readings.feature_ids), np.zeros(len(live.tool))
    readings = np.concatenate([data.reading[:0], *(r.readings for r in rows.reads)])
    nothing_read = np.zeros((flat.samples, 0, NODES), dtype=np.uint8)
    for read in rows.reads if explained else ():
        moved[read.live] = read.log_moved()
    shares, by_storage = np.full((len(live.tool), len(STORAGE_QUANTILES)), np.nan), np.full(len(live.tool), np.nan)
    if explained:
        shares = storage_share(rows.wear_spent, rows.storage_spent, STORAGE_QUANTILES)
        by_storage = moved_by_storage(rows.wear_spent, rows.storage_spent, rows.log_life, shape)
    reading_day = [exposures.readings.time[exposures.readings.row == r.readings[0, ReadingColumns.row]] - 1.0 for r in rows.reads]
    steel_group, log_band = exposures.candidates.steel_group[rows.candidate], bands[rows.candidate]
    nowhere = Trail(*(np.zeros(0) for _ in range(3)))
    of_draws = parameters.all[:, : len(COEFFICIENTS)], effects
    trail = build_trail(exposures, live, *of_draws, steel_group, log_band) if explained else nowhere
    names = [f"{tools.tool_id[t]} life {life}" if life >= 0 else tools.tool_id[t] for t, life in rows.observation]
    return Calibration(
        identity=Identity(
            as_of=str(exposures.as_of),
            fingerprint=fingerprint,
            seed=seed,
            lives=exposures.lives,
            wear_outs=exposures.wear_outs,
            log_band=tuple(float(b) for b in by_class),
            lead_time_weeks=priors.lead_time_weeks,
            lead_time_log_sd=priors.lead_time_log_sd,
            noted_power=priors.noted_power,
            diagnostics=diagnostics,
            priors=priors.text,
            wear_law=LAWS[wear_law],
            law_chosen=law_chosen,
        ),
        levels=Levels(
            coefficient=np.array(COEFFICIENTS),
            share=np.array(SHARES),
            group=np.array(GROUPS),
            tool=np.array(tools.tool_id, dtype=object),
            plant=np.array(exposures.plant_ids, dtype=object),
            resin=np.array(exposures.resins.resin_id, dtype=object),
            design=np.array(tools.design_ids, dtype=object),
            maker=np.array(tools.maker_ids, dtype=object),
            service_class=np.array(CLASSES),
            feature=np.array(exposures.readings.feature_ids, dtype=object),
            observation=np.array(names, dtype=object),
        ),
        draws=Draws(
            coefficient=parameters.all[:, : len(COEFFICIENTS)],
            share=parameters.share,
            scale=scales,
            plant=effects.plant,
            plant_climate=effects.plant_climate,
            resin=effects.resin,
            design=effects.design,
            maker=effects.maker,
            tool=rows.tool,
            sudden_plant=effects.sudden_plant,
            feature_level=rows.features.level[:, :features],
            feature_growth=rows.features.growth[:, :features],
            feature_noise=rows.features.noise[:, :features],
            reading_share=np.concatenate([np.zeros((flat.samples, 0)), *(r.log_share for r in rows.reads)], axis=1),
            read_told=np.stack([packed(r.left.log_likelihood) for r in rows.reads], axis=1) if rows.reads else nothing_read,
            noted_share=rows.noted.log_share,
            wear_spent=rows.wear_spent,
            recorded_share=np.round(255.0 * np.clip(rows.recorded_share, 0.0, 1.0)).astype(np.uint8),
            opening_shots=rows.opening,
            characteristic_life=np.exp(rows.log_life),
            log_likelihood=rows.log_likelihood,
            law=np.full(flat.samples, wear_law, dtype=np.int8),
        ),
        prior=PriorDraws(
            coefficient=priors.loc + rng.standard_normal((PRIOR_DRAWS, len(COEFFICIENTS))) @ priors.root.T,
            share=rng.beta(priors.share_a, priors.share_b, size=(PRIOR_DRAWS, len(SHARES))),
            scale=np.abs(rng.standard_normal((PRIOR_DRAWS, len(GROUPS)))) * priors.scale * priors.group_on,
            log_life=np.append(by_class, np.nan) + life_spread(priors, PRIOR_DRAWS, seed, wear_law).T,
        ),
        plants=PlantTable(
            seen=seen.plant,
            lives=exposures.by_plant.lives,
            wear_outs=exposures.by_plant.wear_outs,
            shots=exposures.by_plant.shots,
            rh_mean_pct=climate.rh_mean_pct,
            sweating_share=climate.sweating_season.mean(axis=1),
            wet_hours_per_year=climate.wet_hours_per_year,
            corrosivity_um_per_year=climate.corrosivity_um,
            corrosivity_category=np.array([c or "" for c in climate.category], dtype=object),
            level=level,
            spread=spread,
            unknown_level=columns(unknown)[0],
            unknown_spread=spreads(unknown)[0],
            season=season,
        ),
        resins=ResinTable(
            seen=seen.resin,
            filler=exposures.resins.filler,
            corrosive=exposures.resins.corrosive,
            described=exposures.resins.described,
            unknown=np.array([priors.undescribed_loc, priors.undescribed_sd]),
        ),
        designs=DesignTable(seen=seen.design),
        live=LiveTable(
            tool=live.tool,
            status=np.array([STATUSES[s] for s in live.status], dtype=object),
            service_class=tools.service_class[live.tool],
            log_band=log_band,
            design=tools.design[live.tool],
            plant=live.plant,
            steel_group=steel_group,
            modifications=live.modifications,
            shots_this_life=live.shots_this_life,
            moved_by_steel=rows.moved["steel"],
            moved_by_past=rows.moved["past"],
            setups_per_shot=live.setups_per_shot,
            setup_share=setup_share(log_band),
            recent_shots=live.recent_shots,
            resin_share=live.resin_share,
            shots_per_month=live.shots_per_month,
            plan_shots=live.plan_shots,
            plan_plant=live.plan_plant,
            plan_resin=live.plan_resin,
            lead_time_weeks=live.lead_time_weeks,
            replacement_due=live.replacement_due,
            replacement_cost=live.replacement_cost,
            refurbish_cost=live.refurbish_cost,
            moved_by_readings=moved,
            in_store=live.in_store,
            store_preserved=live.store_preserved,
            store_log_corrosivity=live.store_log_corrosivity,
            stood_years=live.stood_years,
            stood_preserved=live.stood_preserved,
            stood_log_corrosivity=live.stood_log_corrosivity,
            idle_from=live.idle_from,
            storage_share=shares,
            moved_by_storage=by_storage,
            read_from=live.read_from,
            renewals=live.renewals,
        ),
        reads=ReadTable(
            live=np.array([r.live for r in rows.reads], dtype=np.int64),
            q_low=np.array([r.left.q_low for r in rows.reads]),
            q_high=np.array([r.left.q_high for r in rows.reads]),
        ),
        readings=ReadingTable(
            read=np.repeat(np.arange(len(rows.reads)), [len(r.readings) for r in rows.reads]),
            day=np.concatenate([np.zeros(0), *reading_day]),
            feature=readings[:, ReadingColumns.feature].astype(np.int32),
            log_way=readings[:, ReadingColumns.log_way],
            below=readings[:, ReadingColumns.below].astype(np.int8),
            rounding=readings[:, ReadingColumns.rounding],
        ),
        noted=noted_table(exposures.noted, live.tool, priors),
        features=FeaturePopulation(priors.feature_loc, *priors.feature_sd),
        trail=TrailTable(trail.live, trail.time, trail.share),
    )
