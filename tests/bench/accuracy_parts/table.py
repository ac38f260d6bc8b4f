"""The result of the accuracy benchmark as a table to read."""

from collections.abc import Mapping
from typing import Any

from accuracy_parts.scores import OURS

SHORT = {"class_band": "band", "pooled_weibull": "pooled", "weibull_aft": "AFT", "cox": "Cox", "survival_forest": "forest"}


def told(result: Mapping[str, Any]) -> str:
    """One line a kind, one for all, and what is met."""
    whole = result["summary"]
    head = f"{'kind':16} fleets tools | regret x1000: ours {'  '.join(f'{s:>6}' for s in SHORT.values())} | ratio  behind (SE) | "
    lines = [f"wearfit {result['version']}, {result['date']}, {whole['fleets']} fleets", head + "80 % holds, width: ours, AFT | p / p*"]
    lines += [_line(kind, of) for kind, of in whole["kinds"].items()]
    pooled = whole["pooled"]
    low, high = pooled["ratio_interval"]
    lines += [_line("all", pooled), f"ratio of the best peer's regret to ours {pooled['ratio']:.2f} ({low:.2f} to {high:.2f})"]
    lines += [f"50, 80, 90 % hold {', '.join(f'{100 * v:.1f}' for v in pooled['held'][OURS].values())} % of {pooled['tools']} tools"]
    lines += [f"gate not passed: {', '.join(whole['gate_failed']) or 'none'}", *(f"{k}: {v}" for k, v in whole["met"].items())]
    return "\n".join(lines)


def _line(name: str, of: Mapping[str, Any]) -> str:
    regrets = "  ".join(f"{1000 * of['regret'][n]:6.1f}" for n in SHORT)
    held, width = of["held"], of["log_width"]
    return (
        f"{name:16} {of['fleets']:6d} {of['tools']:5d} | {1000 * of['regret'][OURS]:18.1f} {regrets} | {of['ratio']:5.2f} "
        f"{1000 * of['behind']:7.1f} ({1000 * of['behind_se']:.1f}) | {100 * held[OURS]['80']:5.1f} % {width[OURS]:.2f}, "
        f"{100 * held['weibull_aft']['80']:.1f} % {width['weibull_aft']:.2f} | {of['bias'][OURS]:.2f}"
    )
