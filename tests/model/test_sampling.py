"""The sampler is deterministic, goes on where it stopped, and sees nothing of a history but what counts."""

from dataclasses import replace

import numpy as np
import pytest
from one_class_fleet import fleet_of, simulated_lives
from small_fleet import CLIMATE, EVENTS, PLANTS, RESINS, RUNS, TOOLS, exposures_of, small_fleet

from wearfit.exposures.table import Exposures
from wearfit.model.data import ModelData
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors
from wearfit.model.sampler import CHAINS, VARIABLES, Chains, Compiled, sample

Array = np.ndarray

SEED, DRAWS, TUNE = 5, 60, 60
PRIORS = read_priors()


def data_of(exposures: Exposures, compiled: Compiled) -> ModelData:
    return compiled.laid(prepare(exposures, PRIORS, compiled.layout))


def assert_same(one: Chains, other: Chains) -> None:
    """Bit by bit."""
    for name in VARIABLES:
        assert np.array_equal(one.coordinates[name], other.coordinates[name]), name
    for statistic in ("diverging", "energy", "steps"):
        assert np.array_equal(getattr(one, statistic), getattr(other, statistic)), statistic


@pytest.fixture(scope="module")
def chains(compiled: Compiled) -> Chains:
    return sample(compiled, data_of(small_fleet(), compiled), SEED, DRAWS, TUNE)


def test_shapes(chains: Chains, compiled: Compiled) -> None:
    assert {name: values.shape[:2] for name, values in chains.coordinates.items()} == dict.fromkeys(VARIABLES, (CHAINS, DRAWS))
    assert chains.coordinates["slot"].shape[2] == compiled.layout.scaled
    assert chains.diverging.shape == chains.energy.shape == chains.steps.shape == (CHAINS, DRAWS)
    assert all(np.isfinite(values).all() for values in chains.coordinates.values())
    # No two chains are one, and none stands still.
    z = chains.coordinates["z"]
    assert len(np.unique(z[:, 0, 0])) == CHAINS
    assert (z.std(axis=1) > 0).all()


def test_same_seed_same_draws(chains: Chains, compiled: Compiled) -> None:
    """Another history sampled in between leaves no trace, nor does the number of cores."""
    sample(compiled, data_of(fleet_of(simulated_lives(40, shape=3.0, eta=900_000.0, seed=103)), compiled), SEED, draws=5, tune=5)
    assert_same(chains, sample(compiled, data_of(small_fleet(), compiled), SEED, DRAWS, TUNE, cores=1))


def test_another_seed_other_draws(chains: Chains, compiled: Compiled) -> None:
    other = sample(compiled, data_of(small_fleet(), compiled), SEED + 1, DRAWS, TUNE)
    assert not np.isin(chains.coordinates["z"], other.coordinates["z"]).any()


def test_more_draws_go_on_where_fewer_ended(chains: Chains, compiled: Compiled) -> None:
    longer = sample(compiled, data_of(small_fleet(), compiled), SEED, 2 * DRAWS, TUNE)
    for name in VARIABLES:
        assert np.array_equal(longer.coordinates[name][:, :DRAWS], chains.coordinates[name])
    assert np.array_equal(longer.energy[:, :DRAWS], chains.energy)


# --- what must not count -----------------------------------------------------------------------------------------------

SHEETS = {"tools": TOOLS, "runs": RUNS, "events": EVENTS, "plants": PLANTS, "climate": CLIMATE, "resins": RESINS}


def shuffled(text: str, seed: int) -> str:
    header, *rows = text.strip().splitlines()
    return "\n".join([header, *np.random.default_rng(seed).permutation(rows)])


def test_order_of_rows_does_not_count(chains: Chains, compiled: Compiled) -> None:
    exposures = exposures_of({name: shuffled(text, seed) for seed, (name, text) in enumerate(SHEETS.items(), 91)})
    assert_same(chains, sample(compiled, data_of(exposures, compiled), SEED, DRAWS, TUNE))


def test_names_of_tools_do_not_count(chains: Chains, compiled: Compiled) -> None:
    """Names that sort alike: draws belong to tools in the order of their names."""
    renamed = {"any class": "A-17", "any class too": "A-18", "late": "kurt", "unstated": "z9"}

    def with_names(text: str) -> str:
        rows = [line.split(",") for line in text.strip().splitlines()]
        return "\n".join(",".join([renamed.get(first, first), *rest]) for first, *rest in rows)

    exposures = exposures_of({name: with_names(text) for name, text in SHEETS.items()})
    assert set(renamed.values()) < set(exposures.tools.tool_id)
    assert_same(chains, sample(compiled, data_of(exposures, compiled), SEED, DRAWS, TUNE))


def test_a_run_in_two_rows_on_consecutive_days_is_one(chains: Chains, compiled: Compiled) -> None:
    """70 days of 150,000 shots, written down as 30 days and 40."""
    whole = "exact,Heath,plain,2018-01-10,2018-03-20,150000,30\n"
    parts = "exact,Heath,plain,2018-01-10,2018-02-08,64285.714285714286,30\nexact,Heath,plain,2018-02-09,2018-03-20,85714.285714285714,30\n"
    assert whole in RUNS
    exposures = exposures_of({**SHEETS, "runs": RUNS.replace(whole, parts)})
    assert len(exposures.runs.shots) == len(small_fleet().runs.shots) + 1
    assert_same(chains, sample(compiled, data_of(exposures, compiled), SEED, DRAWS, TUNE))


# --- what is refused ---------------------------------------------------------------------------------------------------


def test_data_of_another_layout_are_refused(compiled: Compiled) -> None:
    small = layout_of(small_fleet())
    assert small != compiled.layout
    with pytest.raises(ValueError, match=r"outside|has shape"):
        sample(compiled, prepare(small_fleet(), PRIORS, small), SEED, DRAWS, TUNE)


def test_an_index_out_of_bounds_never_reaches_compiled_code(compiled: Compiled) -> None:
    data = data_of(small_fleet(), compiled)
    row = data.row.copy()
    row[0, 0] = len(data.candidate)
    with pytest.raises(ValueError, match="candidate"):
        sample(compiled, replace(data, row=row), SEED, DRAWS, TUNE)


def test_progress_is_told_in_shares(compiled: Compiled) -> None:
    told: list[float] = []
    sample(compiled, data_of(small_fleet(), compiled), SEED, DRAWS, TUNE, progress=told.append)
    assert told and all(0.0 <= share <= 1.0 for share in told)
    assert told == sorted(told) and told[-1] == 1.0
