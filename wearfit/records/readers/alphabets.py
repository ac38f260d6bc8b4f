"""How likely words are to be words: by the alphabets of the languages that are written in an encoding."""

import re
import unicodedata
from typing import Final

# Letters beyond a to z by the encoding that serves the language. Languages' alphabets are common knowledge, from memory. Icelandic
# is not among them: its letters stand where the Turkish ones do, and many more moulds run in Turkey; judgement.
_ALPHABETS: Final = {
    "cp1252": (
        "äöüß", "àâæçéèêëîïôœùûüÿ", "áéíñóúü", "àáâãçéêíóôõúü", "àèéìíòóùú", "æøåéäö", "åäöé", "áéëïíóöúüèê", "àçèéíïòóúü",
    ),
    "cp1250": (
        "ąćęłńóśźż", "áčďéěíňóřšťúůýž", "áäčďéíĺľňóôŕšťúýž", "áéíóöőúüű", "čćđšž", "ăâîşţșț", "çë", "äöüß",
    ),
    "cp1254": ("çğıöşüâîû",),
    "cp1257": ("āčēģīķļņšūž", "ąčęėįšųūž", "äöõüšž"),
    "cp1251": (
        "абвгдеёжзийклмнопрстуфхцчшщъыьэюя", "абвгґдеєжзиіїйклмнопрстуфхцчшщьюя", "абвгдђежзијклљмнњопрстћуфхцчџш",
    ),
    "cp1253": ("αβγδεζηθικλμνξοπρστυφχψωςάέήίόύώϊϋΐΰ",),
}  # fmt: skip
_SAME_AS: Final = {"mac_roman": "cp1252", "cp850": "cp1252", "cp852": "cp1250"}

# Signs that do stand beside letters: 25 °C, quotes, dashes; and behind them: m².
_USUAL_SIGNS: Final = "°·×±–—‘’‚“”„…•™®©\u00a0"
_SIGNS_BEHIND: Final = "²³"
_LETTERS_OF_ALL: Final = frozenset("iµªº")  # i: what is left of a small Turkish İ
_WORD = re.compile(r"[^\s\x00-\x2f:-@\[-`{-\x7f]+")


def words_of(text: str) -> list[str]:
    """Distinct words that hold more than ASCII, in order of their first standing."""
    return list(dict.fromkeys(word for word in _WORD.findall(text) if not word.isascii()))


def oddness(text: str, encoding: str) -> int:
    """How much in a text no language would write that uses the encoding.

    Parameters
    ----------
    text : str
        As decoded.
    encoding : str

    Returns
    -------
    int
        Words that are odd in themselves, and letters that the best fitting language lacks; 0 where nothing is odd. Languages of
        no alphabet have all letters.
    """
    words = words_of(text)
    letters = {char.lower()[0] for word in words for char in word if char.isalpha() and not char.isascii()}
    alphabets = _ALPHABETS.get(_SAME_AS.get(encoding, encoding))
    missing = min(len(letters - set(alphabet) - _LETTERS_OF_ALL) for alphabet in alphabets) if alphabets else 0
    return missing + sum(map(_is_odd, words))


def _is_odd(word: str) -> bool:
    for before, char, after in zip(" " + word[:-1], word, word[1:] + " ", strict=True):
        if char.isascii() or char in _LETTERS_OF_ALL:
            continue
        kind = unicodedata.category(char)
        if kind in ("Cc", "Co", "Cn") or (char in _SIGNS_BEHIND and after.isalpha()):
            return True
        is_sign = kind[0] in "PSNZ" and char not in _USUAL_SIGNS + _SIGNS_BEHIND
        if is_sign and (before.isalpha() or after.isalpha()):
            return True
        # Ÿ behind small letters, or a letter of another script.
        if before.islower() and (
            char.isupper() or (before.isascii() and not unicodedata.name(char, "").startswith(("LATIN", "COMBINING")))
        ):
            return True
    return False
