"""`ModelData` of a history without readings, under plain names, for a model that is written without the package: see `in_numpyro`."""

from typing import Any

import numpy as np

from wearfit.model.data import CandidateColumns, CellColumns, EndedColumns, JobColumns, ModelData, PlaceColumns, PlantColumns, RowColumns
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, GROUPS, MONTH_SLOPES, PLANT_SLOPES, SHARES, Layout, coefficient_index

Array = np.ndarray


def plain_arrays(data: ModelData, layout: Layout) -> dict[str, Array]:
    """Whole numbers as such, amounts beside them, and where the named parameters lie in the vector of all.

    Raises
    ------
    ValueError
        Where the history holds readings.
    """
    if len(data.reading) or data.row[:, RowColumns.path].any():
        raise ValueError("the history holds readings, which the model elsewhere knows nothing of")
    d = data
    whole: dict[str, Any] = {
        "plant_effect": d.plant[:, PlantColumns.effect],
        "plant_error": d.plant[:, PlantColumns.error],
        "place_plant": d.place[:, PlaceColumns.plant],
        "job_index": d.job[:, JobColumns.index],
        "candidate_index": d.candidate[:, CandidateColumns.index],
        "candidate_tool": d.candidate[:, CandidateColumns.tool],
        "cell_place": d.cell[:, CellColumns.place],
        "cell_job": d.cell[:, CellColumns.job],
        "row_candidate": d.row[:, RowColumns.candidate],
        "row_chain": d.row[:, RowColumns.chain],
        "row_boundaries": d.row[:, RowColumns.boundaries],
        "row_last_place": d.row[:, RowColumns.last_place],
        "row_last_job": d.row[:, RowColumns.last_job],
        "row_repeats": d.row[:, RowColumns.repeats],
        "ended_row": d.ended[:, EndedColumns.row],
        "ended_interval": d.ended[:, EndedColumns.interval],
        "ended_perhaps": d.ended[:, EndedColumns.perhaps],
        "slot_group": layout.group_of_slot(),
        "turned": layout.turned,
        "mirrored": np.arange(layout.mirrored.start, layout.mirrored.stop),
        "sudden_plant": layout.parameter("sudden_plant", np.arange(layout.plants)),
        "class_offset": np.arange(CLASS_OFFSET.start, CLASS_OFFSET.stop),
        "plant_slopes": PLANT_SLOPES,
        "month_slopes": MONTH_SLOPES,
        "tool_group": GROUPS.index("tool"),
        **{name: coefficient_index(name) for name in ("log_shape", "log_setup", "log_sudden_per_life", "log_sudden_per_handling")},
        **{name: SHARES.index(name) for name in SHARES},
    }
    amounts = {
        "coefficient_loc": d.coefficient_loc,
        "root": d.root,
        "lean": d.lean,
        "lean_on_air": d.lean_on_air,
        "share_prior": d.share_prior,
        "group_prior": d.group_prior,
        "slot_told": d.slot_told,
        "plant_told": d.plant_told,
        "slot_score": d.slot_score,
        "likely": d.likely,
        "contrast": d.contrast,
        "mirror": d.mirror,
        "plant_level": d.plant[:, PlantColumns.level],
        "plant_spread": d.plant[:, PlantColumns.spread],
        "place_departure": d.place[:, PlaceColumns.departure],
        "job_constant": d.job[:, JobColumns.constant],
        "job_weight": d.job[:, JobColumns.weight],
        "candidate_band": d.candidate[:, CandidateColumns.band],
        "candidate_weight": d.candidate[:, CandidateColumns.weight],
        "candidate_log_weight": d.candidate[:, CandidateColumns.log_weight],
        "cell_shots": d.cell[:, CellColumns.shots],
        "cell_setups": d.cell[:, CellColumns.setups],
        "row_kept": d.row[:, RowColumns.kept],
        "sudden": d.sudden,
        "causes": d.causes,
    }
    assert len(d.coefficient_loc) == len(COEFFICIENTS)
    return {name: np.asarray(value).astype(np.int32) for name, value in whole.items()} | amounts
