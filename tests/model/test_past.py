"""Ages at entry that are weighed: against simulated renewals, and what they make of tools of unknown past."""

import numpy as np
import pytest
from prior_chains import at_the_centre, flat_of_priors, under_way
from scipy.stats import norm
from small_fleet import exposures_of

from wearfit.exposures.classes import CLASSES
from wearfit.exposures.past import OPENINGS
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.data import CandidateColumns, CellColumns, ModelData
from wearfit.model.layout import GROUPS
from wearfit.model.past import ages, gauss, total_shots
from wearfit.model.posterior import Rows, log_median_capacity, summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

Array = np.ndarray
PRIORS = read_priors()
SHEETS = {
    "events": "tool_id,date,event,cause",
    "plants": "plant_id,conditioned\nHeath,1",
    "resins": "resin_id,family\nplain,ABS",
}
RUNS = "tool_id,plant_id,resin_id,started_on,ended_on,shots,setups\n" + "\n".join(
    f"T1,Heath,plain,2020-{month:02d}-01,2020-{month:02d}-20,6000,0" for month in range(1, 13)
)


def fleet(tool: str = "", events: str = "", runs: str = RUNS) -> Exposures:
    """One tool of class 103, commissioned five years before its first run; `tool` is history_from, opening_shots, opening_life_shots."""
    columns = "tool_id,service_class,cavity_steel,commissioned_on,history_from,opening_shots,opening_life_shots"
    tools = f"{columns}\nT1,103,prehard,2015-01-01,{tool or ',,'}"
    return exposures_of({**SHEETS, "tools": tools, "runs": runs, "events": "\n".join(["tool_id,date,event,cause", *events.split()])})


def openings(exposures: Exposures) -> tuple[Array, Array]:
    """Ages at entry and their prior weights."""
    data = prepare(exposures, PRIORS, layout_of(exposures))
    cells = exposures.cells
    shots = data.cell[cells.part == 0, CellColumns.shots]
    weight = np.exp(data.candidate[exposures.history.candidate[cells.episode[cells.part == 0]], CandidateColumns.log_weight])
    return shots, weight


# --- the rule ----------------------------------------------------------------------------------------------------------


def test_gauss_rule_of_a_normal_measure_keeps_its_moments() -> None:
    """Moments of a standard normal: 1, 0, 1, 0, 3, 0, 15, 0, 105."""
    x = np.linspace(-9.0, 9.0, 4001)
    nodes, weights = gauss(2.0 + 0.5 * x, norm.pdf(x), 5)
    found = [weights @ ((nodes - 2.0) / 0.5) ** k for k in range(10)]
    assert found == pytest.approx([1, 0, 1, 0, 3, 0, 15, 0, 105, 0], abs=1e-6)
    assert (weights > 0).all()


def test_a_measure_of_one_point_is_that_point() -> None:
    nodes, weights = gauss(np.full(4, 3.0), np.full(4, 0.25), 5)
    assert nodes == pytest.approx(np.full(5, 3.0))
    assert weights.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(("lives", "tolerance"), [(0.4, 0.03), (6.0, 0.04), (20.0, 0.02)])
def test_ages_are_those_of_renewals_that_nobody_wrote_down(lives: float, tolerance: float) -> None:
    """Against a simulation of lognormal lives, each renewed at its end, looked at after so many median lives.

    Near where the clock has most likely run through; where it has run for many lives, by the limit of a renewal process.
    """
    sd, total, n = 0.6, lives, 200_000
    rng = np.random.default_rng(5)
    age = np.full(n, total)
    left = age.copy()
    while (going := left > 0).any():
        age = np.where(going, left, age)
        left = np.where(going, left - np.exp(sd * rng.standard_normal(n)), left)
    spread = np.sort(sd * np.random.default_rng(6).standard_normal(1 << 16))
    at, weight = ages(np.array([1e5 * total]), True, spread, np.log(1e5))
    at = at / 1e5
    assert weight.sum() == pytest.approx(1.0)
    assert at.min() > 0 and at.max() <= total * (1.0 + 1e-9)
    for q in (0.25, 0.5, 1.0, 1.5):
        assert weight[at <= q].sum() == pytest.approx(np.mean(age <= q), abs=tolerance)
    assert np.exp(weight @ np.log(at)) == pytest.approx(np.exp(np.log(age).mean()), rel=0.15)


def test_where_no_renewal_can_be_hidden_the_age_is_the_use_since() -> None:
    total = total_shots(5000.0, 100.0, 30.0, 0.4)
    at, weight = ages(total, False, np.array([0.0]), 0.0)
    assert np.array_equal(at, total) and weight == pytest.approx(np.full(len(total), 1.0 / len(total)))
    assert np.median(total) == pytest.approx(8000.0)
    assert np.std(np.log((total - 5000.0) / 3000.0)) == pytest.approx(0.4, rel=0.1)


# --- what the records say ----------------------------------------------------------------------------------------------


def test_an_age_is_reckoned_from_the_tools_own_pace() -> None:
    """72,000 shots in 355 days, five years before them: some 370,000, were there no renewal; near the band, so perhaps renewed."""
    exposures = fleet()
    assert exposures.past.per_day == pytest.approx([72_000 / 355])
    shots, weight = openings(exposures)
    assert len(shots) == OPENINGS and weight.sum() == pytest.approx(1.0)
    assert (shots > 0).all() and (weight > 0).all()
    likeliest = shots[weight.argmax()]
    assert 150_000 < likeliest < 450_000
    # A history that reaches back to commissioning hides no renewal.
    whole, chance = openings(fleet("2015-01-01,,"))
    assert np.exp(chance @ np.log(whole)) == pytest.approx(1826 * 72_000 / 355, rel=0.02)
    assert chance @ np.log(whole) > weight @ np.log(shots)
    assert np.sqrt(chance @ (np.log(whole) - chance @ np.log(whole)) ** 2) == pytest.approx(0.4, rel=0.1)


def test_shots_since_commissioning_that_are_known_bound_the_age() -> None:
    shots, weight = openings(fleet(",90000,"))
    assert shots.max() <= 90_000 * (1.0 + 1e-9)
    assert weight[shots > 80_000].sum() > 0.9  # a fifth of a median life: hardly any tool was renewed
    assert fleet("2015-01-01,90000,").candidates.opening.tolist() == [-1]  # no renewal can be hidden: it is the age


def test_a_retool_on_record_starts_the_clock() -> None:
    exposures = fleet(events="T1,2019-01-01,retool,wear")
    assert exposures.past.days == pytest.approx([365.0])
    assert not exposures.past.hidden.any()
    shots, weight = openings(exposures)
    assert np.exp(weight @ np.log(shots)) == pytest.approx(365 * 72_000 / 355, rel=0.02)
    # Days before the runs it is as good as new.
    assert fleet(events="T1,2019-12-01,retool,wear").candidates.opening.tolist() == [-1]


def test_a_refurbishment_on_record_takes_its_share() -> None:
    shots, weight = openings(fleet("2015-01-01,,", events="T1,2019-12-30,refurbish,planned"))
    without, chance = openings(fleet("2015-01-01,,"))
    assert weight @ np.log(shots) - chance @ np.log(without) == pytest.approx(np.log(0.65), abs=0.01)


def test_a_history_that_starts_late_may_hide_renewals_among_the_runs() -> None:
    exposures = fleet("2020-07-01,,0")
    assert exposures.past.reckoned.all() and exposures.past.hidden.all()
    assert exposures.past.counted == pytest.approx([36_000])
    # Runs from July on carry the likelihood; those before are part of the age.
    assert exposures.cells.shots[(exposures.cells.part == 1) & (exposures.cells.episode == 0)].sum() == pytest.approx(36_000)
    shots, weight = openings(exposures)
    assert weight[np.abs(shots - 36_000) < 1000].sum() > 0.95
    # With a renewal on record in that time, the records do tell of it.
    assert not fleet("2020-07-01,,0", events="T1,2020-03-25,retool,planned").past.reckoned.any()


def test_a_tool_whose_place_is_known_is_reckoned_by_the_fleet() -> None:
    two = {
        **SHEETS,
        "tools": "tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots,plant_id\n"
        "T1,103,prehard,2019-12-20,0,\nT2,103,prehard,2015-01-01,,Heath\nT3,103,prehard,2015-01-01,,",
        "runs": RUNS,
    }
    exposures = exposures_of(two)
    assert exposures.past.reckoned.tolist() == [False, True, False]
    assert exposures.past.per_day[1] == pytest.approx(72_000 / 355)
    assert [f.value for f in exposures.findings if f.column == "opening_life_shots"] == ["T3"]


# --- what it makes of a forecast ---------------------------------------------------------------------------------------


def forecast(exposures: Exposures) -> tuple[Rows, Array, ModelData]:
    layout = layout_of(exposures)
    data = prepare(exposures, PRIORS, layout)
    flat = flat_of_priors(data, layout, 2000, seed=5)
    rows = summarise_rows(flat, data, layout, exposures, *under_way(exposures, ("T1",)), seed=6)
    shape = np.exp(flat.parameters(data, layout).coefficient("log_shape"))[:, 0]
    left = np.exp(log_median_capacity(rows, shape))[:, 0] - rows.wear_spent[:, 0]
    return rows, left, data


def test_an_unknown_past_is_never_taken_as_new() -> None:
    new, known, unknown = (forecast(fleet(tool)) for tool in (",,0", ",,250000", ",,"))
    assert np.median(unknown[1]) < 0.8 * np.median(new[1])
    # Less is known of what it has spent than with its true opening.
    width = [np.subtract(*np.quantile(np.log(rows.wear_spent[:, 0]), [0.9, 0.1])) for rows in (known[0], unknown[0])]
    assert width[1] > width[0]
    assert unknown[0].opening.min() > 0 and not new[0].opening.any()
    # What the calibration says of it: the mixture against the likeliest age alone; nothing where all is known.
    assert unknown[0].moved["past"][0] != 0.0 and abs(unknown[0].moved["past"][0]) < 1.0
    assert new[0].moved["past"][0] == known[0].moved["past"][0] == unknown[0].moved["steel"][0] == 0.0


def test_openings_are_drawn_by_their_weights_given_the_history() -> None:
    """By hand: the likelihood of each age, the tool's effect and all else averaged over the same draws."""
    exposures = fleet()
    rows, _, data = forecast(exposures)
    shots, _ = openings(exposures)
    frequency = np.array([np.mean(np.isclose(rows.opening[:, 0], s, rtol=1e-5)) for s in shots])
    assert frequency.sum() == pytest.approx(1.0)
    assert (frequency[data.candidate[:, CandidateColumns.log_weight] > np.log(0.1)] > 0.02).all()


def test_unknown_openings_of_simulated_tools_are_recovered() -> None:
    """Renewal by renewal: lives of the prior's centre and one tool effect each, of which only what came late is on record."""
    rng = np.random.default_rng(17)
    n = 150
    shape, tool_sd = 3.0, 0.5
    eta = np.exp(class_log_band(PRIORS, band_offsets(PRIORS))[CLASSES.index("103")] + tool_sd * rng.standard_normal(n))
    tools, runs, events, truth = [], [], [], []
    for i in range(n):
        years, per_day = rng.integers(1, 8), 250.0 * np.exp(0.2 * rng.standard_normal())
        before = per_day * np.exp(0.4 * rng.standard_normal()) * 365.25 * years  # use before the records
        life, age = eta[i] * rng.exponential() ** (1.0 / shape), before
        while age > life:
            age, life = age - life, eta[i] * rng.exponential() ** (1.0 / shape)
        truth.append(age)
        tools.append(f"T{i:03d},103,prehard,{2018 - years}-01-01,")
        made = 0.0
        for month in range(36):
            shots = per_day * 30.0
            worn = age + made + shots > life
            shots = min(shots, max(life - age - made, 1.0))
            day = np.datetime64("2018-01-01") + np.timedelta64(30 * month, "D")
            runs.append(f"T{i:03d},Heath,plain,{day},{day + np.timedelta64(29, 'D')},{shots:.0f},0")
            made += shots
            if worn:
                events.append(f"T{i:03d},{day + np.timedelta64(29, 'D')},retire,wear")
                break
    exposures = exposures_of(
        {
            **SHEETS,
            "tools": "\n".join(["tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots", *tools]),
            "runs": "\n".join(["tool_id,plant_id,resin_id,started_on,ended_on,shots,setups", *runs]),
            "events": "\n".join(["tool_id,date,event,cause", *events]),
        }
    )
    assert exposures.past.reckoned.all() and len(events) > 30
    layout = layout_of(exposures)
    data = prepare(exposures, PRIORS, layout)
    flat = at_the_centre(data, layout, 1000)
    flat.w[:, GROUPS.index("tool")] = tool_sd / data.group_prior[0, GROUPS.index("tool")]
    names = exposures.tools.tool_id
    rows = summarise_rows(flat, data, layout, exposures, *under_way(exposures, names), seed=4)
    log_age, log_true = np.log(rows.opening.astype(float)), np.log(truth)
    error = log_age.mean(axis=0) - log_true
    assert abs(error.mean()) < 4.0 * error.std() / np.sqrt(n)
    standard = error / log_age.std(axis=0)
    assert 0.75 < np.sqrt(np.mean(standard**2)) < 1.25
    # Better than as many years at the fleet's pace, and far better than taken as new.
    total = np.log(exposures.past.days * exposures.past.per_day)
    assert np.sqrt(np.mean(error**2)) < np.sqrt(np.mean((total - log_true) ** 2))
