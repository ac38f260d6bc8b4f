"""Names as people type them: the same but for case, spaces, hyphens and underscores."""

import re
import unicodedata
from collections.abc import Iterable
from typing import Final

# Of 100; in a table of true and false pairs of the trade (tests/records/test_records_names.py) the worst slip of the keyboard
# scores 83 and of the false pairs only those score more that are one letter apart, such as "plan" and "plant".
NEAR: Final = 83

_SEPARATORS = re.compile(r"[\s\-_\u00a0]+")
_NOT_LETTERS_OR_DIGITS = re.compile(r"[\W_]+")
_AMERICAN = (("mold", "mould"), ("sulfur", "sulphur"))


def plain_name(name: str) -> str:
    """The name without what does not tell two names apart: "Started on" and "started_on" are both "startedon"."""
    return _SEPARATORS.sub("", name).casefold()


def bare_name(name: str) -> str:
    """The letters and digits of a header or a sheet's name: "Tool No.", "tool#" and "TOOL_NO" are all "toolno".

    Signs that stand for a word count as that word, and American spelling as British.
    """
    text = unicodedata.normalize("NFKC", name).casefold().replace("#", " no ").replace("%", " pct ")
    bare = _NOT_LETTERS_OR_DIGITS.sub("", text)
    for american, british in _AMERICAN:
        bare = bare.replace(american, british)
    return bare


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like the one typed, or None where none is near.

    For an offer to the reader only; nothing is ever matched by it.

    Notes
    -----
    The larger of two likenesses: of the words in order of the alphabet, so that "total shots" is "shots total", and of the
    letters without blanks, so that "tool number" is "toolnumber".
    """
    best, near = 0.0, None
    for candidate in known:
        likeness = likeness_of(name, candidate)
        if likeness > best:
            best, near = likeness, candidate
    return near if best >= NEAR else None


def likeness_of(one: str, other: str) -> float:
    """How alike two names look, from 0 to 100."""
    from rapidfuzz import fuzz  # takes longer to load than most answers need

    one, other = _words(one), _words(other)
    if not one or not other:
        return 0.0
    return max(fuzz.token_sort_ratio(one, other), fuzz.ratio(one.replace(" ", ""), other.replace(" ", "")))


def offer(name: str, known: Iterable[str], otherwise: str) -> str:
    """A repair that asks for the nearest known name, or `otherwise` where none is near."""
    near = nearest_name(name, known)
    return f"If '{near}' is meant, write that." if near else otherwise


def _words(name: str) -> str:
    return _NOT_LETTERS_OR_DIGITS.sub(" ", name[:200].casefold()).strip()
