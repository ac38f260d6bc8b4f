"""What was given beats the store's own settings, which beat the defaults."""

from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.store.store import Store
from wearfit.workflow.settings import HORIZON, LARGEST_SEED, SEED, SETTINGS, TOLERANCE, Setting

TEXTS = {
    "horizon": ("3", 3.0),
    "tolerance": ("0.05", 0.05),
    "unnoticed": ("0.02", 0.02),
    "seed": ("7", 7),
    "priors": ("own.toml", Path("own.toml")),
}


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.name)
def test_order_of_precedence(setting: Setting[object], tmp_path: Path):
    text, value = TEXTS[setting.name]
    with Store.open(str(tmp_path / "wearfit.db")) as store:
        assert setting.chosen(None, store) == setting.default
        store.set_setting(setting.name, text)
        assert setting.chosen(None, store) == value
        assert setting.chosen("given", store) == "given"
        store.set_setting(setting.name, None)
        assert setting.chosen(None, store) == setting.default


@pytest.mark.parametrize(
    ("setting", "text"),
    [
        *((HORIZON, text) for text in ("", "ten", "0", "-1", "nan", "inf", "100")),
        *((TOLERANCE, text) for text in ("0", "1", "10 %", "nan", "-0.1")),
        *((SEED, text) for text in ("", "-1", "1.5", "x", "²", str(LARGEST_SEED + 1))),
    ],
)
def test_values_that_mean_nothing_are_wrong_use(setting: Setting[float], text: str):
    with pytest.raises(Refusal) as refused:
        setting.parse(text)
    assert refused.value.status == 2
    assert setting.name in refused.value.problem


def test_the_repair_of_a_bad_value_names_a_good_one():
    for setting in (HORIZON, TOLERANCE, SEED):
        with pytest.raises(Refusal) as refused:
            setting.parse("nonsense")
        setting.parse(refused.value.repair.split()[-1].rstrip("."))


def test_the_largest_seed_can_be_stored():
    assert SEED.parse(str(LARGEST_SEED)) == LARGEST_SEED
