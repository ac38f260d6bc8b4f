"""Commands that are fixed but not built yet: they say so, and never give a wrong number."""

from typing import Final

from wearfit.errors import Refusal

NOT_BUILT: Final = {
    "plan": "The plan's renewals, spend and shortages",
    "choose": "The decision calculators",
    "backtest": "The backtest",
    "brief": "The one-page brief on a tool",
    "template": "The empty workbook",
    "export": "The export of a store",
    "serve": "The app",
}


def refusal_of(command: str) -> Refusal:
    """What `wearfit COMMAND` says."""
    return Refusal(f"{NOT_BUILT[command]} (`wearfit {command}`) is not built yet.", "See `wearfit --help` for what is.", 2)
