"""One page on one tool as a tagged PDF (PDF/UA-1): what stands on it, and how it is set."""

import json
from dataclasses import asdict, dataclass
from importlib.resources import files
from typing import Any, Final

from wearfit.report.letters import lacking, number, printable

SIZES: Final = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
"""Of the type, the largest first; the page takes the first in which all of it has room. [point]"""


@dataclass(frozen=True)
class Mark:
    """A day that the picture marks: where along it, 0 to 1, and in words; `strong` for the day by which something is to be done."""

    at: float
    said: str
    strong: bool


@dataclass(frozen=True)
class Picture:
    """The chance that the tool is still good, falling along time.

    Parameters
    ----------
    curve : tuple of (float, float)
        Places along time, 0 to 1 of the picture, and chances.
    years : tuple of (float, str)
        Where each year begins, 0 to 1, and its name.
    likely_from, likely_to : float
        Between these places lies the wear-out in 8 of 10 cases; in 9 of 10 it lies behind the first where the second is the end, 1.
    marks : tuple of Mark
    says : str
        The picture in words, for who does not see it.
    """

    curve: tuple[tuple[float, float], ...]
    years: tuple[tuple[float, str], ...]
    likely_from: float
    likely_to: float
    marks: tuple[Mark, ...]
    says: str


@dataclass(frozen=True)
class Page:
    """What stands on the page, all of it plain text: no sign of a name is read as markup.

    Parameters
    ----------
    title : str
        Of the document.
    question, about : str
        What is asked, and of which tool.
    answer : str
        The one sentence to take away.
    detail : tuple of str
        Sentences with the answer's interval.
    facts : tuple of (str, str)
        Figures by name.
    picture : Picture or None
    assumptions : tuple of (str, str)
        Each in a sentence, and what hangs on it.
    beyond : str
        What no assumption settles.
    cautions : tuple of str
    rests_on : tuple of str
        Calibration, fingerprint, day.
    """

    title: str
    question: str
    about: str
    answer: str
    detail: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    picture: Picture | None
    assumptions: tuple[tuple[str, str], ...]
    beyond: str
    cautions: tuple[str, ...]
    rests_on: tuple[str, ...]


def as_pdf(page: Page) -> bytes:
    """The page as PDF; the same page gives the same bytes on every machine.

    Notes
    -----
    Text reaches the typesetter as data, never as its language. Only the typesetter's own typefaces are used and no date is written.
    """
    import typst  # 80 MB that only a brief needs

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)
    content: dict[str, Any] = asdict(page)
    unprinted = lacking(_texts(content))
    content = _printable(content) | {"unprinted": [number(sign) for sign in unprinted]}
    source = files("wearfit.report").joinpath("page.typ").read_bytes()
    data = json.dumps(content)
    for size in SIZES:
        told = {"page": data, "size": str(size)}
        pages = typst.query(source, "<pages>", "value", True, font_paths=fonts, ignore_system_fonts=True, sys_inputs=told)
        if json.loads(pages) == 1:
            break
    made = typst.compile(source, font_paths=fonts, ignore_system_fonts=True, sys_inputs=told, format="pdf", pdf_standards=["ua-1"])
    assert isinstance(made, bytes)
    return made


def unprinted(page: Page) -> tuple[str, ...]:
    """Letters of the page that it cannot print; its number in Unicode stands for each, and the page says so."""
    return lacking(_texts(asdict(page)))


def _texts(value: Any) -> tuple[str, ...]:
    if isinstance(value, str):
        return (value,)
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ()
    return tuple(text for each in inner for text in _texts(each))


def _printable(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {name: _printable(inner) for name, inner in value.items()}
    return [_printable(inner) for inner in value] if isinstance(value, list | tuple) else value
