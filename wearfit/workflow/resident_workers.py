"""The workers that are kept warm on this machine, of whatever version, to be seen and ended."""

from dataclasses import asdict
from typing import Any

from wearfit.workflow.resident_door import Ask, Stop, ask
from wearfit.workflow.resident_place import all_places, own_place


def seen() -> list[dict[str, Any]]:
    """How each stands: `resident_door.Standing` by name, and whether this version of the program would use it."""
    return _asked(Ask())


def end_all() -> list[dict[str, Any]]:
    """End every one, whatever it does, and say how it stood."""
    return _asked(Stop())


def _asked(message: Ask | Stop) -> list[dict[str, Any]]:
    own = own_place()
    standings = ((place, ask(place, message)) for place in all_places())
    return [asdict(s) | {"of_this_version": place == own} for place, s in standings if s is not None]
