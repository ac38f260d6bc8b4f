"""Charts and tables as every screen shows them: with an alternative text, the numbers in a table, and both to take away."""

import json
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import altair as alt
import pandas as pd
import streamlit as st

from wearfit.screens import cached, look, session
from wearfit.screens.session import Basis
from wearfit.screens.unbroken import escape
from wearfit.workflow.downloads import Value, as_csv, as_workbook

BASIS: Final = ("Calibration", "Fingerprint of its records")  # columns of every table that is taken away


@dataclass(frozen=True)
class Numbers:
    """A table of numbers behind a chart or an answer.

    Parameters
    ----------
    name : str
        Of the file to take away, without its ending.
    columns : sequence of str
        Heads, with units.
    rows : sequence of rows of values
        Text, numbers, or None for a blank.
    """

    name: str
    columns: Sequence[str]
    rows: Sequence[Sequence[Value]]

    def frame(self) -> pd.DataFrame:
        return pd.DataFrame([list(row) for row in self.rows], columns=list(self.columns))


def figure(drawn: alt.TopLevelMixin, says: str, numbers: Numbers, key: str) -> None:
    """A chart, its numbers folded below it, and their CSV.

    Parameters
    ----------
    drawn
        Not yet in the app's theme.
    says : str
        The alternative text: what is drawn, and what it shows.
    numbers : Numbers
    key : str
        Unlike that of every other figure of the page.
    """
    st.altair_chart(look.chart(drawn), width="stretch", theme=None, alt=says, key=f"{key}_chart")
    in_numbers(numbers, f"The numbers of this chart. {says}", key)


def held_figure(draw: Callable[[], alt.TopLevelMixin], rests_on: Hashable, says: str, numbers: Numbers, key: str) -> None:
    """The same of a chart that is put together once, by `draw`, and held as long as what it rests on stays."""
    drawn = cached.drawing((key, rests_on), lambda: look.chart(draw()).to_json(indent=None))
    st.vega_lite_chart(json.loads(drawn), width="stretch", theme=None, alt=says, key=f"{key}_chart")
    in_numbers(numbers, f"The numbers of this chart. {says}", key)


def plain_figure(drawn: Mapping[str, Any], says: str, numbers: Numbers, key: str) -> None:
    """The same of a chart that is written as Vega-Lite, as `look.plain_chart` takes it."""
    st.vega_lite_chart(look.plain_chart(drawn), width="stretch", theme=None, alt=says, key=f"{key}_chart")
    in_numbers(numbers, f"The numbers of this chart. {says}", key)


def in_numbers(numbers: Numbers, says: str, key: str, workbook: bool = False) -> None:
    """A table folded away, with what takes it away: for what stands above it in a drawing or in words."""
    with st.expander("The same in numbers"):
        table(numbers, says, key)
        downloads(numbers, key, workbook)


def table(numbers: Numbers, says: str, key: str) -> None:
    """A table with its alternative text, to be sorted and searched in the browser; numbers are written as the reader's language does."""
    frame = numbers.frame()
    written = {name: st.column_config.NumberColumn(format="localized") for name in frame.select_dtypes("number").columns}
    st.dataframe(frame, hide_index=True, alt=says, key=f"{key}_table", column_config=written, placeholder="")


def draw_table(heads: Sequence[str], rows: Sequence[Sequence[str]], says: str) -> None:
    """A small table of words and numbers, the first column its names."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in row[1:])}</tr>' for row in rows
    )
    st.html(f'<table class="wf-table" aria-label="{escape(says)}"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>')


def downloads(numbers: Numbers, key: str, workbook: bool = False) -> None:
    """Buttons that take a table away: CSV, and where wanted XLSX. What is written is worked out when a button is pressed.

    Beside each row stands the calibration that it rests on.
    """
    numbers = _with_basis(numbers, session.of_user().basis)
    with st.container(horizontal=True, gap="small"):
        st.download_button(
            "Download as CSV",
            lambda: as_csv(numbers.columns, numbers.rows),
            f"{numbers.name}.csv",
            "text/csv",
            key=f"{key}_csv",
            on_click="ignore",
        )
        if workbook:
            st.download_button(
                "Download as XLSX",
                lambda: as_workbook(numbers.name, numbers.columns, numbers.rows),
                f"{numbers.name}.xlsx",
                "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
                key=f"{key}_xlsx",
                on_click="ignore",
            )


def _with_basis(numbers: Numbers, basis: Basis | None) -> Numbers:
    if basis is None:
        return numbers
    told = (basis.calibration, basis.fingerprint)
    return Numbers(numbers.name, (*numbers.columns, *BASIS), [(*row, *told) for row in numbers.rows])
