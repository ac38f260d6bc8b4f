"""Commands that are fixed but not built yet: they say so, and never give a wrong number."""

from typing import Final

from wearfit.errors import Refusal

NOT_BUILT: Final = {
    "export": "everything in the store as open files",
}


def refusal_of(command: str) -> Refusal:
    """What `wearfit COMMAND` says."""
    return Refusal(f"`wearfit {command}` ({NOT_BUILT[command]}) is not built yet.", "See `wearfit --help` for what is.", 2)
