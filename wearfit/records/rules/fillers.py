"""Fillers given as shares where percent are wanted."""

from typing import Final

from wearfit.records.cells import number_text
from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames
from wearfit.records.rules.marking import Judged, mark, with_table

# No filled resin holds less than this; grades are made from 5 % upwards. Common practice.
LEAST_PCT: Final = 1.0


def read_filler_shares(frames: Frames) -> Judged:
    """Bring fillers to percent where all of a sheet can only be shares; note the odd one among percents.

    Notes
    -----
    A column of which no number reaches 1 holds shares. A lone number below 1 among larger ones may be a pigment's or a slip.
    """
    resins = frames["resins"]
    filler = resins["filler_pct"]
    given = filler[filler > 0.0]
    if given.empty or given.min() >= LEAST_PCT:
        return dict(frames), []
    shares = (filler > 0.0) & (given.groupby(resins[SOURCE]).max() < LEAST_PCT).reindex(resins[SOURCE], fill_value=False).to_numpy()
    findings = []
    for source, rows in resins[shares].groupby(SOURCE, sort=True):
        first = rows.sort_values(ROW).iloc[0]
        share, read = number_text(float(first["filler_pct"])), number_text(_percent(first["filler_pct"]))
        problem = (
            f"No number of filler_pct reaches 1, and no filled resin has so little; they are shares, read as percent, as in row "
            f"{first[ROW]}, where {share} is read as {read}."
        )
        findings.append(Finding("resins", None, "filler_pct", share, problem, "Write them in percent.", "repaired", str(source)))
    findings += mark(
        "resins", resins[(filler > 0.0) & (filler < LEAST_PCT) & ~shares], "filler_pct",
        "The filler of {resin_id}, {filler_pct} %, is less than any filled resin has; used as it stands.",
        "If it is a share, write it in percent; if it is a pigment, leave the cell blank.", "note",
    )  # fmt: skip
    return with_table(frames, "resins", resins.assign(filler_pct=filler.where(~shares, filler.map(_percent)))), findings


def _percent(share: float) -> float:
    # Fifteen digits: 0.07 is 7 %, not 7.000000000000001.
    return float(f"{100.0 * share:.15g}")
