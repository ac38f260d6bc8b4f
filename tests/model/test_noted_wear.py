"""The wear at a noted defect is that of the same history had it ended there; what is believed of its kind is what the file says."""

import numpy as np
import pytest
from prior_chains import flat_of_priors, under_way
from priors_text import changed
from small_fleet import exposures_of

from wearfit.exposures.table import Exposures, Noted
from wearfit.model.clock import run_clock
from wearfit.model.noted import noted_table
from wearfit.model.posterior import summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import parse_priors, read_priors

TOOLS = """
tool_id,service_class,cavity_steel,commissioned_on
T1,103,prehard,2018-01-02
T2,103,prehard,2018-01-02
riddle,,,2018-01-02
"""
T2_RUNS = """
T2,Heath,plain,2018-01-10,2018-01-19,1000,
T2,Shed,filled,2018-02-10,2018-02-19,1000,
"""
FIRST = "T1,Heath,plain,2018-01-10,2018-01-19,100000,\nT1,Shed,filled,2018-02-10,2018-02-19,60000,\n"
HALF = "T1,Heath,filled,2018-05-10,2018-05-14,20000,\n"
WHOLE = "T1,Heath,filled,2018-05-10,2018-05-19,40000,\n"
RIDDLE = "riddle,Shed,plain,2018-02-10,2018-02-19,5000,\n"
RIDDLE_LATER = "riddle,Heath,filled,2018-04-10,2018-04-19,7000,\n"
PLANTS = "plant_id,conditioned,chloride_mg_m2_day,so2_mg_m2_day\nHeath,1,,\nShed,0,40,10"
CLIMATE = "plant_id,month,temp_c,rh_pct\n" + "\n".join(f"Shed,2018-{m:02d},{10 + m},75" for m in range(1, 13))
RESINS = "resin_id,family,filler_pct,filler_kind\nplain,ABS,,\nfilled,PA66,30,GF"
HEADER = "tool_id,plant_id,resin_id,started_on,ended_on,shots,setups\n"
EVENTS = "tool_id,date,event,cause,note\nT2,2018-04-19,service,,\n"  # the latest day of the cut histories of riddle, too
RETOOL = "T1,2018-01-25,refurbish,wear,\n"
NOTE = "T1,2018-05-14,service,,flash growing at cavity 2\nriddle,2018-03-01,service,,burn marks\n"


def exposed(runs: str, events: str) -> Exposures:
    tables = {"tools": TOOLS, "runs": HEADER + T2_RUNS.strip() + "\n" + runs, "events": EVENTS + events, "plants": PLANTS}
    return exposures_of(tables | {"climate": CLIMATE, "resins": RESINS})


def wear_now(exposures: Exposures, names: tuple[str, ...], draws: int = 60) -> tuple[np.ndarray, np.ndarray]:
    """Wear spent and log shares at noted defects, of the same parameters whatever the history."""
    layout = layout_of(exposures)
    data = prepare(exposures, read_priors(), layout)
    rows = summarise_rows(flat_of_priors(data, layout, draws, seed=5), data, layout, exposures, *under_way(exposures, names), seed=6)
    return rows.wear_spent.astype(float), rows.noted.log_share.astype(float)


@pytest.mark.parametrize("renewal", ["", RETOOL])
def test_wear_at_a_note_is_that_of_a_history_that_ends_there(renewal: str) -> None:
    spent, log_share = wear_now(exposed(FIRST + WHOLE, renewal + NOTE.splitlines(True)[0]), ("T1", "T2"))
    ended, _ = wear_now(exposed(FIRST + HALF, renewal), ("T1", "T2"))
    assert log_share.shape == (60, 1)
    assert spent[:, 0] * np.exp(log_share[:, 0]) == pytest.approx(ended[:, 0], rel=1e-4)
    assert (log_share < 0.0).all() and log_share.mean() < -0.05  # it is not now


def test_each_draw_takes_the_note_of_the_candidate_that_it_is() -> None:
    exposures = exposed(RIDDLE + RIDDLE_LATER, NOTE.splitlines(True)[1])
    layout = layout_of(exposures)
    data = prepare(exposures, read_priors(), layout)
    flat = flat_of_priors(data, layout, 200, seed=7)
    rows = summarise_rows(flat, data, layout, exposures, *under_way(exposures, ("riddle", "T1")), seed=8)
    cut = prepare(exposed(RIDDLE, ""), read_priors(), layout)
    (tool,) = np.flatnonzero(np.array(exposures.tools.tool_id) == "riddle")
    mine = np.flatnonzero(exposures.candidates.tool[exposures.history.candidate] == tool)
    p = flat.parameters(data, layout)
    then, now = run_clock(p, cut).end[:, mine], run_clock(p, data).end[:, mine]
    which = np.abs(now - rows.wear_spent[:, :1].astype(float)).argmin(axis=1)
    draw = np.arange(flat.samples)
    assert rows.noted.log_share[:, 0] == pytest.approx(np.log(then[draw, which] / now[draw, which]), rel=1e-3)


def test_chances_and_questions_by_kind() -> None:
    kinds = np.array(["flash_in_one_place", "flash_everywhere", "flash", "burn", "surface", "loose_part", "sharp_edge"], dtype=object)
    n = len(kinds)
    zero = np.zeros(n, dtype=int)
    noted = Noted(zero, np.zeros(n), kinds, np.zeros(n, bool), np.array(["a page\n" * 90] * n, dtype=object), zero, zero, np.arange(n))
    table = noted_table(noted, np.arange(1), read_priors())
    # 3 to 1 and 1 to 4: between them the odds are the root of 3/4.
    assert table.p_wear[:5] == pytest.approx([0.75, 0.20, np.sqrt(0.75) / (1 + np.sqrt(0.75)), 0.35, 0.05])
    assert np.isnan(table.p_wear[5:]).all()
    assert all(question.endswith("?") for question in table.question[:5]) and set(table.question[5:]) == {""}
    assert all(note.isprintable() and len(note) <= 200 for note in table.note)
    edited = parse_priors(changed((("noted", "burn", "p_wear"), 0.5), (("noted", "burn", "question"), "Vents?")))
    table = noted_table(noted, np.arange(1), edited)
    assert (table.p_wear[3], table.question[3]) == (0.5, "Vents?")
