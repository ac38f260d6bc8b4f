"""What moved the forecasts, in sentences."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.workflow.wording import count, shots

WEAR_OUTS: Final = "wear_outs"
SURE: Final = 3.0  # times its Monte Carlo error that a number of wear-outs must have moved, to be told: some tens are looked at
MOST_TOOLS: Final = 6  # named, the furthest moved
TOLD: Final = 0.2  # [wear-outs] less is told as no change; judgement
BATCHES: Final[Mapping[str, str]] = {"year": "Year", "quarter": "Quarter", "plant": "Plant, last 12 months", "upload": "Upload"}
"""What batches are by, as a table calls it."""

ENTRIES: Final[Mapping[str, str]] = {
    "shape": "how lives scatter (the shape)",
    "class_offset": "how far classes last longer or shorter than their bands",
    "setup": "what a set-up costs",
    "refurbish": "what a refurbishment gives back",
    "repeat": "what a repeated refurbishment gives back",
    "wear_share": "how many renewals of unstated cause were wear-outs",
    "storage.rate": "what storage costs",
    "storage.preserved": "what oiling does in storage",
    "storage.corrosivity": "what a store's air does",
    "steel.prehard": "what pre-hardened steel does to life",
    "steel.hard": "what hardened steel does to life",
    "steel.aluminium": "what aluminium does to life",
    "steel.copper_alloy": "what copper alloy does to life",
    "sudden.per_life": "how often tools stop suddenly in use",
    "sudden.per_handling": "how often handling stops a tool",
}
_KINDS: Final[Mapping[str, str]] = {
    "steel": "what {} steel does to life",
    "coating": "what a {} coating does to life",
    "class_offset": "how far class {} lasts longer or shorter than its band",
    "slope": "what {} does to wear",
    "group": "how much {} differ",
    "reading": "the {} of readings",
}
_MEMBERS: Final[Mapping[str, str]] = {
    "plant": "plants", "resin": "resins", "design": "designs", "maker": "toolmakers", "tool": "tools of a kind",
    "sudden_plant": "plants in sudden stops", "sweating_between": "sweating, from plant to plant",
    "sweating_within": "sweating, from month to month",
    "log_corrosivity": "the air's corrosion", "filler_soft": "filler against soft steel", "filler_hard": "filler against hardened steel",
    "corrosive_plain": "corrosive resin against bare steel", "corrosive_plated": "corrosive resin against plated steel",
    "corrosive_stainless": "corrosive resin against stainless steel", "modification": "modifications", "speed": "speed",
    "life": "scatter, from life to life,", "life_growth": "growth, from life to life,",
}  # fmt: skip


_OTHER_NAMES: Final[Mapping[str, str]] = {
    "log_shape": "shape", "log_setup": "setup", "log_sudden_per_life": "sudden.per_life", "log_sudden_per_handling": "sudden.per_handling",
    "log_storage": "storage.rate", "reading.log_life_sd": "reading.life", "reading.log_life_growth_sd": "reading.life_growth",
}  # fmt: skip


def entry_of(coefficient: str) -> str:
    """The entry of the priors file that a coefficient has its prior from."""
    return _OTHER_NAMES.get(coefficient, coefficient)


def belief_name(entry: str) -> str:
    """An entry of the priors file, as a sentence calls it."""
    names = []
    for one in entry.split(", "):
        kind, _, member = one.partition(".")
        names.append(ENTRIES.get(one) or _KINDS.get(kind, "{}").format(_MEMBERS.get(member, member.replace("_", " ")) if member else kind))
    return " and ".join(names)


def sentences(document: Mapping[str, Any]) -> list[str]:
    """What records moved, then what hangs on beliefs."""
    return [*record_sentences(document), *belief_sentences(document["beliefs"])]


def record_sentences(document: Mapping[str, Any]) -> list[str]:
    """Batches that moved a forecast, and tools that hang on one batch, those that moved most first; then what cannot be told."""
    now, batches = document["wear_outs_ahead"], document["batches"]
    told = sorted((b for b in batches if _moved(b, now)), key=lambda b: -abs(b["wear_outs_ahead"] - now))
    many = "none" if not told else f"{len(told):,}"
    said = [
        f"{now:.1f} tools are expected to wear out in the next 12 months; {many} of {count(len(batches), 'batch', 'batches')} of records "
        "moved that by more than the error of telling it."
    ]
    said += [_without(b, now) for b in told]
    tools = sorted(((t, b) for b in batches for t in b["tools"]), key=lambda pair: -_far(pair[0]))
    first: dict[str, tuple[Mapping[str, Any], Mapping[str, Any]]] = {}
    for tool, batch in tools:
        first.setdefault(tool["tool_id"], (tool, batch))
    said += [_tool(*pair) for pair in list(first.values())[:MOST_TOOLS]]
    large = [b for b in batches if not b["reliable"]]
    if large:
        which = ", ".join(f"{_called(b)} (k {_k(b)})" for b in large)
        said.append(f"Too large an effect to be told without recalibrating: {which}.")
    return said


def _moved(b: Mapping[str, Any], now: float) -> bool:
    return bool(b["reliable"]) and abs(b["wear_outs_ahead"] - now) > max(TOLD, SURE * b["error"])


def _called(b: Mapping[str, Any]) -> str:
    return {
        "year": f"the records of {b['name']}",
        "quarter": f"the records of {b['name']}",
        "plant": f"the last 12 months at {b['name']}",
        "upload": f"the upload of {b['name']}",
    }[b["by"]]


def _without(b: Mapping[str, Any], now: float) -> str:
    return (
        f"Without {_called(b)} ({count(b['wear_outs'], 'wear-out', 'wear-outs')}) {b['wear_outs_ahead']:.1f} tools would be expected to "
        f"wear out in the next 12 months, where {now:.1f} are."
    )


def _far(tool: Mapping[str, Any]) -> float:
    return abs(math.log(tool["now"] / tool["without"]))


def _tool(tool: Mapping[str, Any], b: Mapping[str, Any]) -> str:
    without, now = shots(tool["without"]), shots(tool["now"])
    return f"Without {_called(b)} {tool['tool_id']} would likely have {without} shots left, where {now} are told."


def _k(b: Mapping[str, Any]) -> str:
    return "unknown" if b["khat"] is None else f"{b['khat']:.2f}"


def belief_sentences(beliefs: Mapping[str, Any]) -> list[str]:
    """Forecasts that hang on what was believed beforehand, each in a sentence."""
    said = []
    for row in beliefs["priors"]:
        for name, moved in row["forecasts"].items():
            if moved["sensitivity"] >= beliefs["limit"]:
                said.append(_hangs(row["entry"], name, moved, beliefs["forecasts"][name]["mean"]))
    if not said:
        said.append(
            "No forecast hangs on a single belief: with any of them held a little firmer or looser, the wear-outs of the next 12 months "
            "and what is left of each class's tools stay as they are."
        )
    weak = [name for name, f in beliefs["forecasts"].items() if f["likelihood"] < beliefs["limit"]]
    if weak:
        said.append(f"The records say little of {_forecasts(weak)}: it is what was believed beforehand.")
    return said


def _forecasts(names: Sequence[str]) -> str:
    return ", ".join(_forecast(name) for name in names)


def _forecast(name: str) -> str:
    return "the wear-outs of the next 12 months" if name == WEAR_OUTS else f"what is left of the live tools of {class_name(name)}"


def class_name(name: str) -> str:
    """A service class, as a sentence calls it."""
    return "a band of their own" if name == "own_band" else f"class {name}"


def _hangs(entry: str, name: str, moved: Mapping[str, Any], mean: float) -> str:
    of = _forecast(name)
    said = f"{of[0].upper()}{of[1:]} {'hang' if name == WEAR_OUTS else 'hangs'} on what is believed of {belief_name(entry)}"
    if moved["half"] is None or moved["twice"] is None:
        return f"{said}: by how much cannot be told without recalibrating."
    half, twice, now = (f"{n:.1f}" if name == WEAR_OUTS else shots(n) for n in (moved["half"], moved["twice"], mean))
    unit = "wear-outs" if name == WEAR_OUTS else "reference shots of a tool in the middle"
    return f"{said}: half as firmly believed {half} {unit}, twice as firmly {twice}, where {now} are told."
