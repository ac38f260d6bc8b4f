"""Long tables look as the library that prints the short ones would print them."""

import io

import numpy as np
import pytest
from rich.console import Console

from wearfit.cli import tables
from wearfit.cli.tables import Cell, print_table, warned

COLUMNS = ("Tool", "Within\n12 months", "Shots left", "Status")
RNG = np.random.default_rng(5)
NAMES = ("T-", "Œil [b] ", "金型 ", "a name of several words ")
ROWS: list[tuple[Cell, ...]] = [
    (f"{NAMES[i % 4]}{i}", f"1 in {i % 90}", f"{RNG.integers(1, 10**6):,}", warned("STOP: held") if i % 7 == 3 else "live")
    for i in range(450)
]


def printed(width: int, terminal: bool) -> list[str]:
    file = io.StringIO()
    console = Console(file=file, width=width, highlight=False, force_terminal=terminal, color_system="standard" if terminal else None)
    print_table(console, "A table", COLUMNS, ROWS, right=("Shots left",))
    return [line.rstrip() for line in file.getvalue().split("\n")]


@pytest.mark.parametrize("width", [120, 40], ids=["wide", "folded"])
def test_a_long_table_is_as_the_library_lays_it_out(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    long = printed(width, terminal=False)
    monkeypatch.setattr(tables, "MANY", len(ROWS))
    assert long == printed(width, terminal=False)
    assert (len(long) > len(ROWS) + 10) is (width == 40)  # rows of several lines there


def test_cells_that_need_the_reader_keep_their_colour_in_a_long_table() -> None:
    lines = printed(120, terminal=True)
    held = [line for line in lines if "STOP: held" in line]
    assert len(held) == sum(not isinstance(row[3], str) for row in ROWS)
    assert all("\x1b[1;33mSTOP: held" in line for line in held)
