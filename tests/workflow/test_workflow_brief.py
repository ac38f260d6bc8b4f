"""What stands on a brief where names are hostile, long or in letters that the page lacks: one page, and text as text."""

import datetime as dt
import io
import re
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from wearfit.calibration import STACKED, Calibration
from wearfit.report.page import Page, as_pdf, unprinted
from wearfit.store.overrides import Override
from wearfit.workflow.answers import Accepted, Current, forecast_of
from wearfit.workflow.brief import brief_of

NAMES = (
    "<b>x</b>",
    "#panic()",
    "[*bold*](http://x)",
    "\\u{41} $x$ @ref",
    "=1+1",
    "Łódź-Форма",
    "漢字 7",
    "القالب-٣",
    "แม่พิมพ์",
    "金型の名前はとても長いですがそれでも一頁に収まらなければなりません" * 3,
    "W" * 300,
    "wide name " * 40,
    "\u202eabc",
)


def renamed(calibration: Calibration, name: str) -> Calibration:
    """The demo's calibration in which everything about T-049 has another name."""
    levels, live = calibration.levels, calibration.live
    row = int(np.flatnonzero(levels.tool[live.tool] == "T-049")[0])
    changed = {}
    for group, at in (("tool", live.tool[row]), ("plant", live.plant[row]), ("design", live.design[row])):
        names = getattr(levels, group)
        changed[group] = np.array([name if i == at else str(n) for i, n in enumerate(names)], dtype=object)
    changed["resin"] = np.array([name + str(i) for i in range(len(levels.resin))], dtype=object)
    return replace(calibration, levels=replace(levels, **changed))


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_text_and_the_page_stays_one(demo_calibration: Calibration, name: str) -> None:
    day = dt.date(2026, 6, 30)
    owner = Override(name, dt.datetime(2026, 7, 1, tzinfo=dt.UTC), name, day, dt.date(2027, 1, 1), None, name * 9)
    page = brief_of(Current(1, renamed(demo_calibration, name), day), Accepted(10.0, 0.1), name, owner)
    reader = PdfReader(io.BytesIO(as_pdf(page)))
    (only,) = reader.pages
    text = " ".join(only.extract_text().split())
    if not unprinted(page) and len(name) < 40 and name.isascii():
        assert f"tool {name} wear out" in text
        assert f"Tool {name}" in (reader.metadata.title or "")  # type: ignore[union-attr]
    assert "/Annots" not in only  # no link was made of it
    assert "Fingerprint" in text
    first = next((sign for sign in name if sign in unprinted(page)), None)
    assert ("number in Unicode" in text) == (first is not None)
    if first is not None:
        assert f"tool ‹U+{ord(first):04X}" in text
        assert f"Tool ‹U+{ord(first):04X}" in (reader.metadata.title or "")  # type: ignore[union-attr]
    assert "□" not in text


def test_the_small_print_says_which_law(demo_calibration: Calibration) -> None:
    day = dt.date(2026, 6, 30)
    for law, said in (("log-logistic", "log-logistic law. Asked"), (STACKED, "all laws by their weights. Asked")):
        calibration = replace(demo_calibration, identity=replace(demo_calibration.identity, wear_law=law))
        page = brief_of(Current(1, calibration, day), Accepted(10.0, 0.1), "T-049", None)
        assert said in page.rests_on[0]


def page(calibration: Calibration, tool: str, day: dt.date = dt.date(2026, 6, 30)) -> Page:
    return brief_of(Current(1, calibration, day), Accepted(10.0, 0.1), tool, None)


def test_a_tool_with_a_note_of_sharp_flash_is_to_be_looked_at_first(demo_calibration: Calibration) -> None:
    noted = page(demo_calibration, "T-036")
    assert noted.answer.startswith("Have it looked at before it runs. Order its replacement by ")
    assert noted.detail[0] == ("A note of 20 Apr 2026 says \u2018sharp flash growing at cavity 2\u2019, and no hold came with it.")
    assert "looked at" not in page(demo_calibration, "T-049").answer


def test_nine_in_ten_wear_out_where_the_months_have_no_end(demo_calibration: Calibration) -> None:
    (said,) = (sentence for sentence in page(demo_calibration, "T-036").detail if "most likely" in sentence)
    (answer,) = forecast_of(Current(1, demo_calibration, dt.date(2026, 6, 30)), Accepted(10.0, 0.1), ["T-036"])["tools"]
    assert answer["wear_out_on"]["p90"] is None  # beyond the horizon
    first = dt.date.fromisoformat(answer["wear_out_on"]["p10"])
    assert said.endswith(f"; in 9 of 10 such cases in {first:%b %Y} or later.")
    assert "in 8 of 10 such cases between" in " ".join(page(demo_calibration, "T-049").detail)
    for tool, shaded in (("T-036", "9 in 10 of them wear out, as far as shown"), ("T-049", "8 in 10 of them wear out.")):
        (only,) = PdfReader(io.BytesIO(as_pdf(page(demo_calibration, tool)))).pages
        assert f"Shaded: when {shaded}" in " ".join(only.extract_text().split())


def test_a_replacement_past_its_due_day_is_overdue(demo_calibration: Calibration) -> None:
    worn, running = (page(demo_calibration, tool, dt.date(2026, 12, 31)) for tool in ("T-041", "T-081"))
    assert worn.answer == "It is worn out. Its replacement is overdue since 8 Jul 2026."
    assert worn.assumptions[1][0] == "Its replacement is overdue since 8 Jul 2026."
    assert running.answer == "Its replacement is on order, overdue since 30 Jul 2026."
    assert running.picture is not None and not any(mark.strong for mark in running.picture.marks)
    assert page(demo_calibration, "T-041").answer == "It is worn out. Its replacement is due on 8 Jul 2026."


def test_a_chance_is_not_broken_over_two_lines(demo_calibration: Calibration) -> None:
    (only,) = PdfReader(io.BytesIO(as_pdf(page(demo_calibration, "T-036")))).pages
    text = only.extract_text()
    assert "1 in 10 is accepted" in " ".join(text.split())
    assert not re.search(r"\d\s*\n\s*in \d|\d in\s*\n", text)
