"""Coatings of cavities, by the words that people write for them."""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

COATINGS: Final = ("chrome", "nickel", "nitride", "pvd", "dlc")

# Whole words; parts of words where they end in a hyphen here, so that other languages' compounds are read as well. Trade words and
# the usual layers (TiN, CrN, TiAlN come from vapour); common practice. In order: a chromium nitride is no chrome.
_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "dlc": ("dlc", "diamond-", "diamant-", "a-c:h", "ta-c"),
    "pvd": ("pvd", "tin", "crn", "tialn", "ticn", "altin", "titanium nitride", "chromium nitride"),
    "nickel": ("nickel-", "ni", "nip", "vernick-"),
    "nitride": ("nitrid-", "nitrier-", "nitrocarburis-", "nitrocarburiz-"),
    "chrome": ("chrom-", "cr", "hcr"),
}
_NONE: Final = frozenset({"", "none", "no", "nil", "bare", "uncoated", "not coated", "no coating", "without", "plain", "n/a", "-"})


@lru_cache(maxsize=1024)
def coating_of(text: str) -> str | None:
    """The coating that a cell names, "" for none; None where it is none that is known, or two that wear apart.

    Notes
    -----
    Words are read in any case, and between other words: "hard chrome plated", "TiN (2 um)".
    """
    said = text.strip().casefold()
    if said in _NONE:
        return ""
    found = []
    for coating, words in _WORDS.items():
        for word in words:
            pattern = re.escape(word[:-1]) if word.endswith("-") else rf"\b{re.escape(word)}\b"
            if re.search(pattern, said):
                found.append(coating)
                said = re.sub(pattern, " ", said)
    kinds = list(dict.fromkeys(found))
    return kinds[0] if len(kinds) == 1 else None
