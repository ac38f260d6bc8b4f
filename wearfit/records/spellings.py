"""When two names are one: spelt the same for certain, or only near."""

import re
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

# Letters of other scripts that look like Latin ones, a few of those in Unicode's list of confusable characters (UTS #39), from memory.
# Small Cyrillic letters stand for their capitals too, so that case makes no difference; of Greek only capitals, for a small beta
# or alpha in the name of a resin is meant.
_CYRILLIC = str.maketrans("авекмнорстухѕіј", "abekmhopctyxsij")
_GREEK = str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX")
_MARKS = str.maketrans("‘’ʼ´`“”−⁃", "'''''\"\"--")

# Raised, lowered and circled digits are kept apart: "T104²" is not "T1042".
_SAME_FORM: Final = ("<wide>", "<narrow>", "<noBreak>", "<font>", "<compat>")

# Letters of a word, the longer of two, that may be one letter off; judgement. Words of resins' names may be symbols such as LDPE and
# LLDPE, of which all but one (PE-UHMW written in one word) have at most five letters.
SHORTEST: Final = 5
SHORTEST_OF_RESINS: Final = 6

_SEPARATORS = re.compile(r"[\s\-_]+")
_O_FOR_ZERO = re.compile(r"(?<=\d)o+(?=\d)")
_ZERO_FOR_O = re.compile(r"(?<=[^\W\d_])0+(?=[^\W\d_])")
_ZEROS = re.compile(r"(?<![\d.,])0+(?=\d)")
_PIECES = re.compile(r"\d+|[^\W\d_]+")


@lru_cache(maxsize=65_536)
def spelling_key(name: str) -> str:
    """What two spellings of one name share.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
        The name without case, blanks, hyphens and underscores, dashes of any length being hyphens and letters of other scripts
        the Latin ones that they look like. Between two digits a separator stays: "T-1-04" is not "T-104". A letter O
        between digits is a zero, a zero between letters an O.
    """
    folded = _folded(name)
    return _SEPARATORS.sub(lambda found: _kept(folded, found), folded)


def one_name(names: Collection[str]) -> bool:
    """Whether names with one `spelling_key` are one for certain: "T1-A2" and "T1A-2" are parted at different places."""
    if not any(letter.isdigit() for name in names for letter in name):
        return True
    cuts = sorted((_cuts(name) for name in names), key=len)
    return all(fewer <= more for fewer, more in pairwise(cuts))


def zeroless(name: str) -> str:
    """The `spelling_key` without zeros in front of numbers: "T0104" and "t-104" are both "t104"."""
    return _ZEROS.sub("", spelling_key(name))


def are_near(one: str, other: str, shortest: int = SHORTEST) -> bool:
    """Whether two names may be one: numbers agree and one letter of a long word is off, or a zero is an O or leads.

    Parameters
    ----------
    one, other : str
    shortest : int
        Letters that the longer of two words must have, if one of them is to be off.

    Notes
    -----
    The first letter must agree, for slips seldom hit it, and a last letter that is another one counts a series: "typea", "typeb".
    Judgement. Never near are names whose numbers differ, such as "plant 1" and "plant 2", "PA6" and "PA66".
    """
    if one == other:
        return False
    if zeroless(one) == zeroless(other) or _all_zeros(one) == _all_zeros(other):
        return True
    mine, theirs = _pieces(one), _pieces(other)
    if len(mine) != len(theirs):
        return False
    differing = [pair for pair in zip(mine, theirs, strict=True) if pair[0] != pair[1]]
    return len(differing) == 1 and _one_letter_off(*differing[0], shortest)


@dataclass(frozen=True)
class NameIndex:
    """Names, so kept that those near another are found without a look at all of them.

    Parameters
    ----------
    of_key : mapping of str to list of str
        The names by every text that they share with a name near to them.
    shortest : int
        As of `are_near`.
    """

    of_key: Mapping[str, list[str]]
    shortest: int

    def near(self, name: str) -> list[str]:
        """The names that are near to one, in order of the alphabet."""
        candidates = {other for key in _shared_keys(name, self.shortest) for other in self.of_key.get(key, ())}
        return sorted(other for other in candidates if are_near(name, other, self.shortest))


def name_index(names: Iterable[str], shortest: int = SHORTEST) -> NameIndex:
    """The index of some names, blank ones left out."""
    of_key: dict[str, list[str]] = {}
    for name in set(names) - {""}:
        for key in set(_shared_keys(name, shortest)):
            of_key.setdefault(key, []).append(name)
    return NameIndex(of_key, shortest)


def script_of(name: str) -> str:
    """Cyrillic or Greek, where a name has letters of it that look like Latin ones; else ""."""
    folded = name.casefold()
    if folded.translate(_CYRILLIC) != folded:
        return "Cyrillic"
    return "Greek" if name.translate(_GREEK) != name else ""


@lru_cache(maxsize=65_536)
def _folded(name: str) -> str:
    """The name in small Latin letters as far as it looks like them, its separators still there."""
    if name.isascii():
        text = name.casefold()
    else:
        text = "".join(map(_plain_letter, name.translate(_MARKS)))
        greek = [letter for letter in text if "\u0370" <= letter <= "\u03ff"]
        if all(ord(letter) in _GREEK for letter in greek):  # else it is a Greek word, whose case must not matter
            text = text.translate(_GREEK)
        text = text.casefold().translate(_CYRILLIC)
    text = _O_FOR_ZERO.sub(lambda found: "0" * len(found[0]), text)
    return _ZERO_FOR_O.sub(lambda found: "o" * len(found[0]), text).strip()


def _plain_letter(letter: str) -> str:
    if letter.isascii():
        return letter
    if unicodedata.category(letter) == "Pd":
        return "-"
    if letter.isspace():
        return " "
    return unicodedata.normalize("NFKC", letter) if unicodedata.decomposition(letter).startswith(_SAME_FORM) else letter


def _kept(text: str, found: re.Match[str]) -> str:
    """What stays of a separator: one between digits parts two numbers, a hyphen at an end or beside a sign may be a sign."""
    before, after = text[: found.start()][-1:], text[found.end() :][:1]
    if before.isalnum() and after.isalnum():
        return "-" if before.isdigit() and after.isdigit() else ""
    return "-" if found[0].strip() else ""


def _cuts(name: str) -> frozenset[int]:
    """Where a name is parted, counted in letters and digits."""
    folded = _folded(name)
    return frozenset(sum(map(str.isalnum, folded[: found.start()])) for found in _SEPARATORS.finditer(folded))


def _all_zeros(name: str) -> str:
    return spelling_key(name).replace("o", "0")


@lru_cache(maxsize=65_536)
def _pieces(name: str) -> tuple[str, ...]:
    """Words and numbers of a name, the numbers without zeros in front."""
    return tuple(piece.lstrip("0") or "0" if piece.isdecimal() else piece for piece in _PIECES.findall(_folded(name)))


def _one_letter_off(one: str, other: str, shortest: int) -> bool:
    from rapidfuzz.distance import OSA  # takes longer to load than most answers need

    if max(len(one), len(other)) < shortest or one[0] != other[0] or one[0].isdigit():
        return False
    series = len(one) == len(other) and one[:-1] == other[:-1]
    return not series and OSA.distance(one, other, score_cutoff=1) == 1


def _shared_keys(name: str, shortest: int) -> Iterator[str]:
    """Texts of which two near names have one in common: two words one letter apart are the same without some letter each."""
    yield f"zeros {zeroless(name)}"
    yield f"o {_all_zeros(name)}"
    pieces = _pieces(name)
    for place, word in enumerate(pieces):
        if len(word) >= shortest - 1 and not word.isdecimal():
            for shorter in (word, *(word[:i] + word[i + 1 :] for i in range(len(word)))):
                yield f"{place} {' '.join((*pieces[:place], shorter, *pieces[place + 1 :]))}"
