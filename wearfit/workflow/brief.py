"""The one-page brief on a tool, from the current calibration of a store."""

import datetime as dt
import hashlib
from pathlib import Path
from typing import Any

from wearfit.forecasts.date_hangs_on import date_hangs_on
from wearfit.report.page import Page, as_pdf, unprinted
from wearfit.report.whole import write_whole
from wearfit.store.overrides import Override
from wearfit.store.store import Store
from wearfit.workflow.answers import Accepted, Current, accepted, forecast_of, read_current, remaining_life_of, with_news
from wearfit.workflow.brief_in_words import Told, page_of
from wearfit.workflow.known_names import known_tool

_PDF = b"%PDF-"


def write_brief(store_url: str, tool: str, path: Path, as_of: dt.date | None = None) -> dict[str, Any]:
    """Write the brief of a tool to a file.

    Parameters
    ----------
    path : Path
        A PDF that lies there is replaced, anything else is not.

    Returns
    -------
    dict
        What every answer carries, the path, the answer's sentence, the file's SHA-256, and letters that the page could not print.

    Raises
    ------
    Refusal
        As `answers.forecast` and `write_whole`.
    """
    with Store.open(store_url, must_exist=True) as store:
        choices = store.choices()
        current, within = with_news(store, read_current(store, as_of), choices), accepted(store)
        named = known_tool(tool, current.calibration, choices)
        kept = store.overrides_of(named)
    page = brief_of(current, within, named, kept[0] if kept else None)
    content = as_pdf(page)
    write_whole(path, content, _PDF)
    return current.document(
        {
            "path": str(path),
            "tool_id": named,
            "question": page.question,
            "answer": page.answer,
            "law": current.calibration.identity.wear_law,
            "sha256": hashlib.sha256(content).hexdigest(),
            "unprinted": list(unprinted(page)),
        }
    )


def brief_pdf(store_url: str, current: Current, within: Accepted, tool: str) -> bytes:
    """The brief from a calibration at hand, the tool named as it names it."""
    with Store.open(store_url, must_exist=True) as store:
        kept = store.overrides_of(tool)
    return as_pdf(brief_of(current, within, tool, kept[0] if kept else None))


def brief_of(current: Current, within: Accepted, tool: str, owner: Override | None) -> Page:
    """What stands on the page.

    Parameters
    ----------
    owner : Override or None
        The owner's last judgement of the tool.
    """
    (answer,) = forecast_of(current, within, [tool])["tools"]
    left = remaining_life_of(current, within, tool)
    hangs = date_hangs_on(current.calibration, tool, current.as_of, within.horizon_years, current.news)
    return page_of(Told(answer, left, hangs, owner), current, within)
