"""Laws fitted in jobs: each result counts once and is found again, and the comparison is that of laws fitted one after another."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from wearfit.calibration import from_bytes
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet
from wearfit.demo.simulate import simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.errors import Refusal
from wearfit.evidence.law_scores import Scores
from wearfit.evidence.laws import Asked, LawFit, compare_laws
from wearfit.law import LAWS
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow import law_jobs
from wearfit.workflow.history import history_of
from wearfit.workflow.law_jobs import over_laws, pack_fit, unpack_fit
from wearfit.workflow.progress import Progress, silent
from wearfit.workflow.ways import Here, Processes

Array = np.ndarray

FLEET = Fleet(sites=SITES[:3], resins=RESINS[:3], n_tools=30, n_designs=10, n_makers=3, seed=8, years=6)
DEMO = from_bytes(Path("models/demo.nc").read_bytes())
BAD = {"weibull": [], "log-logistic": [2], "lognormal": list(range(1, 12))}  # lives that weights cannot forecast: 0, 1 and 8 posteriors
LIVES = 12


def scores_of(law: str) -> Scores:
    repaired = np.isin(np.arange(LIVES), BAD[law])
    return Scores(np.linspace(-3.0, -2.0, LIVES) - 0.1 * LAWS.index(law), np.where(repaired, 0.9, 0.1), repaired, 0)


def asked_of(seed: int = 1) -> Asked:
    exposures = SimpleNamespace(episodes=SimpleNamespace(life=np.arange(LIVES + 2)), history=SimpleNamespace(source=np.arange(LIVES + 2)))
    return Asked(exposures, None, "records", SimpleNamespace(text="priors"), seed)  # type: ignore[arg-type]


class Fits:
    """Stands for the model: what it was asked for, and where it breaks."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.asked: list[Any] = []
        self.breaks_at: Any = None
        monkeypatch.setattr(law_jobs, "fit_law", self.fit)
        monkeypatch.setattr(law_jobs, "forecast_anew", self.anew)

    def fit(self, asked: Asked, law: str, models: Any, told: Any) -> LawFit:
        self._note(law)
        return LawFit(law, DEMO, scores_of(law), {"sample": 2.0, "score": 1.0})

    def anew(self, asked: Asked, law: str, places: Array, models: Any) -> Array:
        self._note((law, tuple(places.tolist())))
        return -10.0 - places

    def _note(self, what: Any) -> None:
        if what == self.breaks_at:
            raise KeyboardInterrupt
        self.asked.append(what)


def test_lives_that_weights_cannot_forecast_are_forecast_anew_and_the_others_are_not(monkeypatch: pytest.MonkeyPatch) -> None:
    fits, told = Fits(monkeypatch), list[Progress]()
    found = over_laws(asked_of(), Here(), None, told.append)
    assert [fit.name for fit in found.fits] == list(LAWS)
    for fit in found.fits:
        was, bad = scores_of(fit.name), np.array(BAD[fit.name], dtype=int)
        np.testing.assert_array_equal(fit.scores.elpd[bad], -10.0 - bad)
        np.testing.assert_array_equal(np.delete(fit.scores.elpd, bad), np.delete(was.elpd, bad))
    assert [fit.scores.together for fit in found.fits] == [0, 1, 2]  # eleven lives are left out in eight groups
    assert len(fits.asked) == len(LAWS) + 1 + 8
    assert (found.lives, found.ratio) == (LIVES, 2)
    assert found.seconds == {"sample": 6.0, "score": 3.0}
    assert told[-1].share == 1.0


def test_what_was_done_before_it_broke_off_is_not_done_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    fits = Fits(monkeypatch)
    fits.breaks_at = ("lognormal", (3, 11))
    with pytest.raises(KeyboardInterrupt):
        over_laws(asked_of(), Here(), tmp_path / "kept", silent)
    before, fits.asked, fits.breaks_at = list(fits.asked), [], None
    found = over_laws(asked_of(), Here(), tmp_path / "kept", silent)
    assert not set(before) & set(fits.asked) and len(before) + len(fits.asked) == len(LAWS) + 9
    fits.asked = []
    again = over_laws(asked_of(), Here(), tmp_path / "kept", silent)
    assert not fits.asked
    for one, other in zip(found.fits, again.fits, strict=True):
        np.testing.assert_array_equal(one.scores.elpd, other.scores.elpd)
    over_laws(asked_of(seed=2), Here(), tmp_path / "kept", silent)
    assert len(fits.asked) == len(LAWS) + 9  # of another seed nothing is taken


def test_a_fit_comes_back_as_it_was_kept() -> None:
    fit = LawFit("lognormal", DEMO, replace(scores_of("lognormal"), together=3), {"sample": 2.5, "score": 1.0})
    back = unpack_fit(pack_fit(fit))
    assert (back.name, back.seconds, back.scores.together) == (fit.name, fit.seconds, 3)
    assert back.calibration.identity == fit.calibration.identity
    np.testing.assert_array_equal(back.scores.repaired, fit.scores.repaired)
    np.testing.assert_array_equal(back.calibration.draws.tool, DEMO.draws.tool)


def test_a_law_that_cannot_be_fitted_is_told_by_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    Fits(monkeypatch)

    def fails(*given: Any) -> LawFit:
        raise Refusal("The records hold nothing to learn from.", "Add some.")

    monkeypatch.setattr(law_jobs, "fit_law", fails)
    with pytest.raises(Refusal, match="The Weibull law: The records hold nothing"):
        over_laws(asked_of(), Here(), None, silent)


@pytest.mark.slow
def test_processes_find_what_laws_one_after_another_find(tmp_path: Path) -> None:
    write_tables(simulate_fleet(FLEET).tables, tmp_path)
    history = history_of(assemble(read(tmp_path).rows))
    asked = Asked(history.exposures, history.live, history.fingerprint, read_priors(), 3)
    spread = over_laws(asked, Processes(2), tmp_path / "kept", silent)
    alone = compare_laws(history.exposures, history.live, history.fingerprint, asked.priors, asked.seed)
    assert any(fit.scores.repaired.any() for fit in alone.fits)
    for one, other in zip(spread.fits, alone.fits, strict=True):
        np.testing.assert_allclose(one.scores.elpd, other.scores.elpd, rtol=1e-9)
        np.testing.assert_array_equal(one.calibration.draws.tool, other.calibration.draws.tool)
    assert spread.choice.weights == pytest.approx(alone.choice.weights)
