"""Colours that can be read, and a look that asks nobody for anything."""

import re
from pathlib import Path

import pytest

from wearfit.screens import look
from wearfit.screens.register import FOLDER
from wearfit.screens.unbroken import escape, with_commands


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_measured_as_the_standard_says() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("text", [look.INK, look.QUIET, look.COPPER, look.TEAL])
@pytest.mark.parametrize("ground", [look.PAPER, "#F1ECE2"])
def test_text_can_be_read_on_every_ground(text: str, ground: str) -> None:
    assert contrast(text, ground) >= 4.5


def test_the_style_sheet_uses_the_apps_colours_alone_and_fetches_nothing() -> None:
    sheet = (FOLDER / "look.css").read_text(encoding="utf-8")
    known = {value.lower() for name, value in vars(look).items() if name.isupper() and str(value).startswith("#")}
    assert set(re.findall(r"#[0-9a-f]{6}", sheet)) <= known
    assert "url(" not in sheet
    assert "@import" not in sheet


@pytest.mark.parametrize("mark", ["mark.svg", "wordmark.svg"])
def test_marks_are_drawn_here(mark: str) -> None:
    drawn = Path(FOLDER / mark).read_text(encoding="utf-8")
    assert "href" not in drawn
    assert set(re.findall(r"https?://[^\"']+", drawn)) == {"http://www.w3.org/2000/svg"}


def test_a_per_cent_sign_stands_apart_from_its_number_and_never_on_a_line_of_its_own() -> None:
    assert with_commands("Run `wearfit law <now>`: 5 %.") == "Run <code>wearfit law &lt;now&gt;</code>: 5&nbsp;%."
    assert escape("0.2 % to <3.6 %>") == "0.2&nbsp;% to &lt;3.6&nbsp;%&gt;"
    for file in FOLDER.rglob("*.py"):
        source = file.read_text(encoding="utf-8")
        assert file.name == "unbroken.py" or "from html import" not in source, file
        # A format of Vega's that ends in the sign writes it right behind the number.
        assert not re.search(r"format\W{1,4}[^\"']*%[\"']", source), file
