"""What the worker says on the way while it calibrates under all laws: of which law each stage is."""

from collections.abc import Callable
from typing import Any

import pytest

import wearfit.evidence.laws
from wearfit.calibration import STACKED
from wearfit.law import LAWS
from wearfit.model.priors import own_priors_text
from wearfit.workflow.worker_process import Request, calibrated


class _Enough(Exception):
    pass


def test_each_stage_says_of_which_law_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    def compare(*history: Any) -> None:
        told: Callable[[str, str, float], None] = history[5]
        for law in LAWS:
            told(law, "sample", 0.5)
        raise _Enough

    monkeypatch.setattr(wearfit.evidence.laws, "compare_laws", compare)
    request = Request(None, None, "", own_priors_text(), 1, law=STACKED)  # type: ignore[arg-type]
    said: list[tuple[str, float, str]] = []
    with pytest.raises(_Enough):
        calibrated(request, {}, lambda stage, share, part: said.append((stage, share, part)))
    assert said == [("sample", 0.5, f"the {name} law") for name in ("Weibull", "log-logistic", "lognormal")]
