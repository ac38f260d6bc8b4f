"""Parts or shots: runs whose count stands in the wrong column.

The rule. For a tool of several cavities each count is read both ways, and the readings are weighed (`odds`) against
what the cycle time allows, against the pace of the tool's other runs, and by how often the tool, the plant and the fleet
count the other thing. The likelier reading is used. Readings that lie nearer together than the runs scatter are told apart
only where the cycle time forbids the one and allows the other. Without a cycle time and without OTHER_RUNS others nothing is
changed.

Error rates on 40 simulated fleets of 120 tools and 16 runs a tool (tests/records/test_records_rules_counts.py makes such):
scatter of .15 in logs, 15 % of runs much slower, cycle times of 70 % of the tools. With every row right, .04 % of runs are
changed and as many noted as doubtful. With 7 % of rows wrong, .3 % of the right ones are changed and .13 % noted, and of the
wrong ones these are found, by cavities:

    cavities                                             2     3     4     8    16
    parts under shots                                  .59   .89   .95   .96   .99
    shots under parts                                  .16   .59   .76   .93   .97
    parts under shots, scatter .3, 25 % much slower    .32   .52   .77   .91   .95
    shots under parts, the same                        .00   .00   .08   .49   .80

With 4 cavities or more .92 are found in all, .68 with the greater scatter; there .05 % of runs are changed where every row is right.
"""

from collections.abc import Hashable, Iterator, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames, cells_by_row
from wearfit.records.rules.counts.odds import BEYOND, Counts, Floats, Ints, odds_of_the_other
from wearfit.records.rules.counts.said import said_of_choices, said_of_group, said_of_run
from wearfit.records.rules.marking import Judged, with_table
from wearfit.records.rules.paces import SECONDS_PER_DAY, cycle_times, days_of, open_cavities, shots_of_parts

CHANGED_FROM: Final = 0.5  # probability from which the other reading is used
DOUBTED_FROM: Final = 0.4  # probability from which what is kept is noted as doubtful; judgement
ONE: Final = 1.0  # [shots] a run of less has no pace to be weighed
OTHER_RUNS: Final = 4  # other runs of a tool that tell its pace where the cycle time does not
FAR_BEYOND: Final = 1.2  # share of what the cycle time allows that no error of it explains; judgement
BEYOND_WEIGHT: Final = 100.0  # weight in runs of the belief that cycle times are to be trusted; judgement
SAME_NUMBER: Final = 1.1  # parts and shots both filled in and no further apart are one number in two columns; judgement
GROUP_SHARE: Final = 0.8  # from this share of a plant's or tool's runs on, one finding says it for all; judgement
# What a finding may speak of together, the fewest runs and the fewest tools for it; judgement.
GROUPS: Final = ((["plant_id"], 5, 2), (["tool_id"], 3, 1), (["tool_id", "plant_id"], 3, 1))
AT_A_TIME: Final = 5_000  # rows

NO_CHOICES: Final = Choices()


def judge_counts(frames: Frames, choices: Choices = NO_CHOICES) -> Judged:
    """Read counts as parts or shots, as the user decided or as is likelier.

    Parameters
    ----------
    frames : Frames
    choices : Choices
        Counts that the user decided on are read so and not judged.

    Returns
    -------
    Judged
        A count that was in the wrong column is moved to the right one. Findings: one a choice, and one a run, or one a plant or
        tool where nearly all its runs are alike.
    """
    runs = _both_ways(frames)
    decided = _decided(runs, choices) if choices.counts else None
    weighed = _weighed(runs if decided is None else runs[decided == ""])
    told = weighed[weighed["odds"] > DOUBTED_FROM]
    told = told.join(runs.loc[told.index].drop(columns=told.columns.intersection(runs.columns))).assign(
        given=lambda some: frames["runs"].loc[some.index, "shots"].fillna(frames["runs"].loc[some.index, "parts"])
    )
    changed = told["odds"] > CHANGED_FROM

    wrong_side = pd.Series(False, index=runs.index)
    wrong_side[told.index[changed]] = True
    findings = []
    if decided is not None:
        wrong_side |= (decided != "") & (decided != runs["stands_under"]) & ~runs["both"]
        findings += said_of_choices(runs, decided, wrong_side, choices)
    findings += _said_of_changed(weighed, told[changed])
    findings += [said_of_run(record, changed=False) for record in _records(told[~changed])]
    return with_table(frames, "runs", _moved(frames["runs"], runs, wrong_side)), findings


def _both_ways(frames: Frames) -> pd.DataFrame:
    """Runs with the shots that their counts stand for as written, and if they count the other thing."""
    runs = frames["runs"]
    shots, parts, scrap = (runs[name].to_numpy(dtype=float) for name in ("shots", "parts", "scrap_parts"))
    cavities = open_cavities(frames, runs).fillna(1.0).to_numpy()
    under_shots = ~np.isnan(shots)
    both = under_shots & ~np.isnan(parts)
    reckoned = shots_of_parts(parts, scrap, cavities)
    as_parts = np.where(both, reckoned, shots_of_parts(shots, scrap, cavities))
    made = parts + np.nan_to_num(scrap)
    apart = both & ((made > shots * SAME_NUMBER) | (made < shots / SAME_NUMBER))
    written = np.where(under_shots, shots, reckoned)
    told = {
        "days": days_of(runs).to_numpy(), "open": cavities, "cycle": cycle_times(frames, runs).to_numpy(), "both": both,
        "stands_under": pd.Series(np.array(["parts", "shots"], dtype=object)[under_shots.astype(int)], index=runs.index, dtype=object),
        "written": written, "other": np.where(~apart & (cavities > 1), np.where(under_shots, as_parts, parts), written),
    }  # fmt: skip
    return pd.concat([runs[["tool_id", "plant_id", ROW, SOURCE]], pd.DataFrame(told, index=runs.index)], axis=1)


def _decided(runs: pd.DataFrame, choices: Choices) -> pd.Series:
    """What the user decided that each run counts, shape (run,); "" where nothing was."""
    decided = pd.Series("", index=runs.index, dtype=object)
    theirs = runs[runs["tool_id"].isin({choice.tool_id for choice in choices.counts})]
    pairs = set(zip(theirs["tool_id"], theirs["plant_id"], strict=True))
    said = {(tool, plant): choices.counted_in(tool, plant) or "" for tool, plant in pairs}
    words = [said[pair] for pair in zip(theirs["tool_id"], theirs["plant_id"], strict=True)]
    decided[theirs.index] = pd.Series(words, index=theirs.index, dtype=object)
    return decided


def _weighed(runs: pd.DataFrame) -> pd.DataFrame:
    """Runs that could count the other thing: with its probability, `odds`, and the pace of the tool's `others`, `usual`."""
    written, other, days, cycle = (runs[name].to_numpy(dtype=float) for name in ("written", "other", "days", "cycle"))
    paced = (written >= ONE) & (days > 0)
    movable = paced & (other != written) & (other > 0)
    beyond = _beyond(written[~movable], cycle[~movable], days[~movable])
    of_tool, _ = pd.factorize(runs["tool_id"].to_numpy())
    at = np.flatnonzero(paced & np.isin(of_tool, of_tool[movable]))
    (tool, names), (plant, _) = (pd.factorize(runs[name].to_numpy()[at]) for name in ("tool_id", "plant_id"))
    cycle = np.where(np.isnan(cycle[at]), _usual(cycle[at], tool), cycle[at])
    pace = np.log(written[at] / days[at])
    step = np.log(np.where(movable[at], other[at] / written[at], 1.0))
    odds = odds_of_the_other(_counts(pace, step, cycle, tool, plant, beyond))
    others = np.bincount(tool, minlength=len(names))[tool] - 1
    odds = np.where(np.isfinite(cycle) | (others >= OTHER_RUNS), odds, 0.0)
    usual = np.exp(_usual(pace + np.where(odds > CHANGED_FROM, step, 0.0), tool))
    told = step != 0
    return runs.iloc[at[told]][["tool_id", "plant_id", "stands_under"]].assign(
        odds=odds[told], usual=usual[told], cycle=cycle[told], others=others[told]
    )  # fmt: skip


def _usual(amounts: Floats, tool: Ints) -> Floats:
    """Median of the amounts of each run's tool, blank ones left out, shape (run,)."""
    return pd.Series(amounts).groupby(tool).transform("median").to_numpy()


def _counts(pace: Floats, step: Floats, cycle: Floats, tool: Ints, plant: Ints, beyond: float) -> Counts:
    """The counts to be weighed, the pace as a share of what the cycle time allows where that is known."""
    timed = np.isfinite(cycle)
    share = pace - np.log(SECONDS_PER_DAY / np.where(timed, cycle, 1.0))
    return Counts(np.where(timed, share, pace), step, timed, tool, plant, beyond)


def _beyond(written: Floats, cycle: Floats, days: Floats) -> float:
    """Chance that a right run is far faster than its cycle time allows, as the runs show whose count can be read in one way only."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a run of no days, or of days the wrong way round, tells nothing
        share = written * cycle / (days * SECONDS_PER_DAY)
    told = share[np.isfinite(share) & (share > 0)]
    # A tenth of runs beyond means that the cycle times say nothing, as runs do not reach them that often where they say all.
    return float(np.clip(10.0 * (np.sum(told > FAR_BEYOND) + BEYOND * BEYOND_WEIGHT / 10.0) / (len(told) + BEYOND_WEIGHT), BEYOND, 1.0))


def _said_of_changed(weighed: pd.DataFrame, changed: pd.DataFrame) -> list[Finding]:
    """One finding for all runs of a plant or tool where nearly all were changed, else one a run."""
    findings = []
    left = changed
    for names, fewest, tools in GROUPS:
        by = [*names, "stands_under"]
        if len(left) < fewest or left.groupby(by, sort=False).size().max() < fewest:
            continue
        table = weighed[["tool_id", "plant_id", "stands_under"]].assign(left=weighed.index.isin(left.index)).groupby(by, sort=True).agg(
            runs=("left", "size"), changed=("left", "sum"), tools=("tool_id", "nunique")
        )  # fmt: skip
        whole = table[(table["changed"] >= fewest) & (table["changed"] >= GROUP_SHARE * table["runs"]) & (table["tools"] >= tools)]
        for of_group in whole.reset_index().to_dict("records"):
            among = np.logical_and.reduce([left[name] == of_group[name] for name in by])
            findings.append(said_of_group(left[among], names, int(of_group["runs"])))
            left = left[~among]
    return findings + [said_of_run(record, changed=True) for record in _records(left)]


def _records(runs: pd.DataFrame) -> Iterator[Mapping[Hashable, Any]]:
    """The rows one by one, made a few at a time: as mappings they take many times the room."""
    for first in range(0, len(runs), AT_A_TIME):
        yield from cells_by_row(runs.iloc[first : first + AT_A_TIME])


def _moved(table: pd.DataFrame, runs: pd.DataFrame, wrong_side: pd.Series) -> pd.DataFrame:
    """The runs with counts in the wrong column put into the right one; where both are filled in the shots go."""
    if not wrong_side.any():
        return table
    from_shots = wrong_side & (runs["stands_under"] == "shots")
    from_parts = wrong_side & (runs["stands_under"] == "parts")
    shots = table["shots"].where(~from_shots).where(~from_parts, table["parts"])
    parts = table["parts"].where(~(from_shots & ~runs["both"]), table["shots"]).where(~from_parts)
    return table.assign(shots=shots, parts=parts)
