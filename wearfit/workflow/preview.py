"""What records that came since the calibration would change, by weights of its draws: a preview, until all is calibrated anew."""

import datetime as dt
import time
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from wearfit.calibration import MODEL_VERSION, STACKED, Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.likely import likely_wear_outs
from wearfit.forecasts.news import NewReading, News
from wearfit.records.choices import Choices
from wearfit.records.rows import Rows
from wearfit.records.same_again import Kept, keeping
from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.new_records import Made, NewRecords, known_names, new_between
from wearfit.workflow.news import news_among
from wearfit.workflow.preview_in_words import NO_CHANGES, Preview
from wearfit.workflow.progress import Progress, Report, silent
from wearfit.workflow.stored_now import Held, Stored, read_stored
from wearfit.workflow.what_changed import what_changed

if TYPE_CHECKING:
    from wearfit.model.reweigh import Past
    from wearfit.workflow.history import History

Array = np.ndarray

_KEPT: Kept = {}  # of tables that are the same from preview to preview


def preview(store_url: str, report: Report = silent) -> Preview:
    """What the records that came since the current calibration would change.

    Raises
    ------
    Refusal
        Where no calibration is current, it is of another version of the model or of several laws, or what it was calibrated on can no
        longer be told.
    """
    report(Progress("assemble"))
    stored = read_stored(store_url)
    calibration, number = stored.current.calibration, stored.current.number
    identity = calibration.identity
    if identity.model_version != MODEL_VERSION:
        raise Refusal(f"Calibration {number} is of an older model, whose draws cannot be weighed.", "Recalibrate.")
    now = _history(stored.rows, stored.empty, stored.choices, None)
    day = max(now.day, stored.current.as_of)
    if now.fingerprint == identity.fingerprint:
        return Preview(number, identity.fingerprint, day, now.fingerprint, new=False)
    if identity.wear_law == STACKED:
        raise Refusal(
            f"Calibration {number} has the draws of several laws, which cannot be weighed by new records.",
            "Run `wearfit recalibrate`, which takes some minutes under all laws.",
        )
    report(Progress("summarise"))
    of = _Weighed(store_url, stored.entry, stored.held, stored.empty, calibration)
    side = _side(of)
    news = news_among(stored.rows, side.before, stored.choices, day)
    # The model's own arrays take a while to load.
    from wearfit.model.reweigh import reweigh, weighed

    began = time.perf_counter()
    r = reweigh(side.past, now.exposures, now.live, identity.seed)
    changes = NO_CHANGES
    if r.weights.reliable:
        horizon, renewed = stored.within.horizon_years, tuple(sorted(news.renewed.items()))
        after = weighed(side.past, r, now.live, now.fingerprint, identity.seed)
        was = _likely_before(of, day, horizon, news.readings, renewed)
        will = _forecast(day, likely_wear_outs(after, day, horizon, about=_about(r.weights.weights)))
        changes = what_changed(was, will, _new(stored, after, now.day), horizon)
    return Preview(
        number,
        identity.fingerprint,
        day,
        now.fingerprint,
        reliable=r.weights.reliable,
        khat=r.weights.khat,
        effective_draws=_effective(r.weights.weights),
        unweighed=r.unweighed,
        changes=changes,
        seconds=time.perf_counter() - began,
    )


def _effective(weights: Array) -> float:
    """How many even draws weighed ones are worth (Kish 1965, Survey Sampling)."""
    return float(1.0 / (weights**2).sum())


def _about(weights: Array) -> float:
    """Two standard errors of a probability of a half by weighed draws, beyond what it has by the same draws unweighed."""
    return float(np.sqrt(1.0 / _effective(weights) - 1.0 / len(weights)))


def _new(stored: Stored, after: Calibration, records_to: dt.date) -> NewRecords:
    """What came since the calibration, of the records up to a day."""
    former = Made(stored.held.line, stored.entry.summary.as_of)
    newer = Made(max((version.line for version in stored.versions), default=former.line), records_to)
    return NewRecords(*new_between(stored.versions, former, newer, known_names(after, stored.choices)))


def _forecast(day: dt.date, tools: tuple[dict[str, Any], ...]) -> dict[str, Any]:
    return {"as_of": str(day), "tools": tools}


@dataclass(frozen=True)
class _Weighed:
    """A calibration whose draws are weighed; what it is apart from its draws names it."""

    store_url: str
    entry: CalibrationEntry
    held: Held = field(compare=False, repr=False)
    empty: set[str] = field(compare=False, repr=False)
    calibration: Calibration = field(compare=False, repr=False)


@dataclass(frozen=True)
class _Side:
    """A calibration's own side of every preview."""

    past: "Past"
    before: Calibration  # its draws that are weighed, as they were


@lru_cache(maxsize=1)
def _side(of: _Weighed) -> _Side:
    """What the records that a calibration rests on tell of its draws: the same for every preview until it is replaced."""
    from wearfit.model.reweigh import as_it_was, past_of

    identity = of.calibration.identity
    history = _history(of.held.rows, of.empty, of.held.choices, dt.date.fromisoformat(identity.as_of))
    if history.fingerprint != identity.fingerprint:
        raise Refusal(f"The records that calibration {of.entry.id} rests on cannot be put together as they were.", "Recalibrate.")
    past = past_of(of.calibration, history.exposures, history.live, identity.seed)
    return _Side(past, as_it_was(past, identity.seed))


@lru_cache(maxsize=1)
def _likely_before(
    of: _Weighed, day: dt.date, horizon_years: float, readings: tuple[NewReading, ...], renewed: tuple[tuple[str, dt.date], ...]
) -> dict[str, Any]:
    """What a calibration forecasts for a day by the draws that are weighed, with the readings that it has not seen."""
    return _forecast(day, likely_wear_outs(_side(of).before, day, horizon_years, news=News(readings, dict(renewed))))


def _history(rows: Rows, empty: set[str], choices: Choices, day: dt.date | None) -> "History":
    from wearfit.records.assemble import assemble
    from wearfit.workflow.history import history_of

    with keeping(_KEPT):
        return history_of(assemble(rows, empty, choices, with_notes=False), day)  # no finding is shown
