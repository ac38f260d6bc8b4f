"""In which encoding a text is written: said by its first bytes, proved by its form, or guessed and shown."""

import codecs
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from charset_normalizer import from_bytes

from wearfit.errors import Refusal
from wearfit.records.findings import shown
from wearfit.records.readers.alphabets import oddness, words_of

# UTF-32 before UTF-16, whose mark it begins with.
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# What spreadsheets write on systems of the west and centre of Europe, Turkey and the Baltic, newest first.
_LATIN: Final = ("cp1252", "cp1250", "cp1254", "cp1257", "mac_roman", "cp850", "cp852")
# What they write elsewhere.
_OTHERS: Final = ("cp1251", "cp1253", "cp1255", "cp1256", "cp932", "gb18030", "big5", "cp949")

_SAMPLE: Final = 32 * 1024  # bytes of lines that hold more than ASCII; judgement
_OWN: Final = 2  # weight of a file's own words beside all words of the files that came with it; judgement
_BEFORE: Final = 200  # bytes of a line before its first that is not ASCII; judgement
_WORDS: Final = 3  # shown
_LONGEST: Final = 30  # characters of a word that is shown
_EIGHT_BIT = re.compile(rb"[\x80-\xff]")
_LINE_END = re.compile(rb"[\r\n]")


@dataclass(frozen=True)
class Encoding:
    """How a text is decoded.

    Parameters
    ----------
    codec : str
    sure : bool
        Whether it need not be shown: ASCII, UTF-8, said by the first bytes, or chosen by the user.
    words : tuple of str
        Some words as decoded that another encoding would change.
    other : str
        Another encoding that is as possible, "" where there is none.
    other_words : tuple of str
        The same words in the other encoding.
    """

    codec: str
    sure: bool
    words: tuple[str, ...] = ()
    other: str = ""
    other_words: tuple[str, ...] = ()


def oddness_by_codec(contents: Iterable[bytes]) -> Mapping[str, int]:
    """How odd the texts of one hand-over are in each encoding of the Latin alphabets, those left out that say what they are.

    Files that lie together were mostly written by one program: what one of them leaves open another may tell.
    """
    pooled: Counter[str] = Counter()
    for content in contents:
        if _is_guesswork(content):
            odd = _odd_by_codec(content, _sample(content))
            pooled.update({codec: odd.get(codec, max(odd.values()) + 1) for codec in _LATIN})
    return pooled


def encoding_of(name: str, content: bytes, chosen: str | None, pooled: Mapping[str, int]) -> Encoding:
    """Decide in which encoding a text is written.

    Parameters
    ----------
    name : str
        For messages.
    content : bytes
    chosen : str or None
        What the user says.
    pooled : mapping of str to int
        Of the files that were handed over together: `oddness_by_codec`.

    Raises
    ------
    Refusal
        Where the content is not in the encoding that was chosen or that its first bytes name, or is no text.
    """
    if chosen is not None:
        codec = _with_mark(content, codecs.lookup(chosen).name)
        return _proved(name, content, codec, f"{name} is not text in {chosen}, which the choices name for it.")
    for mark, codec in _MARKS:
        if content.startswith(mark):
            return _proved(name, content, codec, f"{name} begins as {codec.removesuffix('-sig')} text and does not go on so.")
    half = _half_of_nuls(content)
    if half is not None:
        return Encoding(half, False, _shown(words_of(content[:_SAMPLE].decode(half, "ignore"))))
    if b"\0" in content:
        raise _no_text(name)
    return _guessed(name, content, pooled) if _is_guesswork(content) else Encoding("utf-8-sig", True)


def _is_guesswork(content: bytes) -> bool:
    """Whether nothing proves the encoding of a text."""
    is_marked = any(content.startswith(mark) for mark, _ in _MARKS)
    return not (is_marked or content.isascii() or b"\0" in content or _decodes(content, "utf-8"))


def _with_mark(content: bytes, codec: str) -> str:
    """The codec that takes a byte order mark for none of the text."""
    if codec == "utf-8":
        return "utf-8-sig"
    return next((marked for mark, marked in _MARKS if content.startswith(mark) and codec.startswith(marked)), codec)


def _proved(name: str, content: bytes, codec: str, problem: str) -> Encoding:
    if not _decodes(content, codec):
        repair = _choose(name, "cp1250" if codec == "utf-8-sig" else "utf-8")
        raise Refusal(problem, repair[0].upper() + repair[1:])
    if "\0" in content.decode(codec):
        raise _no_text(name)
    return Encoding(codec, True)


def _decodes(content: bytes, codec: str) -> bool:
    try:
        content.decode(codec)
    except (UnicodeError, ValueError):
        return False
    return True


def _half_of_nuls(content: bytes) -> str | None:
    """UTF-16 without a mark: every other byte of Latin letters is NUL, and the bytes between are letters, signs and blanks."""
    head = content[:4096]
    for start, codec in ((1, "utf-16-le"), (0, "utf-16-be")):
        high, low = head[start::2], head[1 - start :: 2]
        printable = sum(byte >= 32 or byte in b"\t\r\n" for byte in low if byte < 127)
        if high and high.count(0) > 0.5 * len(high) and printable > 0.5 * len(low) and low.count(0) == 0 and _decodes(content, codec):
            return codec
    return None


def _guessed(name: str, content: bytes, pooled: Mapping[str, int]) -> Encoding:
    sample = _sample(content)
    odd = _odd_by_codec(content, sample)
    codec = min(odd, key=lambda each: _OWN * odd[each] + pooled.get(each, 0))
    if odd[codec] > 0:
        # No language of these alphabets: the guess of a library that knows others, where its words are less odd.
        ranked = from_bytes(sample, cp_isolation=list(_OTHERS)).best()
        if ranked is not None and _decodes(content, ranked.encoding) and oddness(str(ranked), ranked.encoding) < odd[codec]:
            codec = ranked.encoding
    other = next((each for each in ("cp1252", "cp1250") if each != codec and _decodes(content, each)), "")
    words = words_of(sample.decode(codec, "ignore"))
    others = [word.encode(codec, "replace").decode(other or codec, "replace") for word in words]
    pairs = sorted(zip(words, others, strict=True), key=lambda pair: pair[0] == pair[1])  # those that tell the two apart come first
    return Encoding(codec, False, _shown([word for word, _ in pairs]), other, _shown([word for _, word in pairs]))


def _odd_by_codec(content: bytes, sample: bytes) -> dict[str, int]:
    return {codec: oddness(sample.decode(codec, "ignore"), codec) for codec in _LATIN if _decodes(content, codec)}


def _sample(content: bytes) -> bytes:
    """Lines that hold more than ASCII, each wording once; of a long line the part around."""
    lines: dict[bytes, None] = {}
    size = at = 0
    while size < _SAMPLE and (found := _EIGHT_BIT.search(content, at)):
        end = _LINE_END.search(content, found.start(), found.start() + _SAMPLE)
        at = min(found.start() + _SAMPLE, len(content)) if end is None else end.start()
        before = content[max(0, found.start() - _BEFORE) : found.start()]
        line = _LINE_END.split(before)[-1] + content[found.start() : at]
        if line not in lines:
            lines[line] = None
            size += len(line)
    return b"\n".join(lines)[:_SAMPLE]


def _shown(words: Sequence[str]) -> tuple[str, ...]:
    """The first few words, short and printable."""
    return tuple(shown(word, _LONGEST) for word in words[:_WORDS])


def _no_text(name: str) -> Refusal:
    return Refusal(f"{name} is not text.", "Save it as 'CSV UTF-8'.")


def _choose(name: str, codec: str) -> str:
    return f'save it as \'CSV UTF-8\', or write "{name}" = "{codec}" or another under [encodings] in the choices.'


def said(name: str, encoding: Encoding) -> tuple[str, str]:
    """What a guess is and how to choose another: problem and repair, a sentence each."""
    problem = f"{name} does not say in which encoding it is written; it is read as {encoding.codec}"
    if encoding.words:
        problem += f", with words such as {_quoted(encoding.words)}"
    if encoding.other and encoding.words == encoding.other_words:
        problem += f"; {encoding.other} would give the same words"
    elif encoding.other:
        problem += f"; as {encoding.other} they would be {_quoted(encoding.other_words)}"
    return f"{problem}.", f"If that is wrong, {_choose(name, encoding.other or 'cp1250')}"


def _quoted(words: Sequence[str]) -> str:
    return ", ".join(f"'{word}'" for word in words)
