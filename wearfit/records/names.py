"""Names as people type them: the same but for case, spaces, hyphens and underscores."""

import difflib
import re
from collections.abc import Iterable

_SEPARATORS = re.compile(r"[\s\-_\u00a0]+")


def plain_name(name: str) -> str:
    """The name without what does not tell two names apart: "Started on" and "started_on" are both "startedon"."""
    return _SEPARATORS.sub("", name).casefold()


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like the one typed, or None where none is near.

    For an offer to the reader only; nothing is ever matched by it.
    """
    by_plain = {plain_name(candidate): candidate for candidate in known}
    near = difflib.get_close_matches(plain_name(name), list(by_plain), n=1, cutoff=0.7)
    return by_plain[near[0]] if near else None


def offer(name: str, known: Iterable[str], otherwise: str) -> str:
    """A repair that asks for the nearest known name, or `otherwise` where none is near."""
    near = nearest_name(name, known)
    return f"If '{near}' is meant, write that." if near else otherwise
