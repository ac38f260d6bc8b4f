"""Tables as all commands print them."""

from collections.abc import Iterable, Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

Cell = str | Text

WIDE: Final = 120  # columns of a screen from which a table shows more


def print_table(console: Console, title: str, columns: Sequence[str], rows: Iterable[Sequence[Cell]], right: Sequence[str] = ()) -> None:
    """Print a table.

    Parameters
    ----------
    columns : sequence of str
        Heads; a cell is folded rather than cut where the screen is narrow.
    rows : iterable of rows of cells
        Plain text: square brackets in a name are no markup.
    right : sequence of str
        Columns set to the right, for numbers.
    """
    table = Table(
        title=Text(title, style="bold"),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        header_style="bold",
    )
    for name in columns:
        table.add_column(name, justify="right" if name in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*(cell if isinstance(cell, Text) else Text(cell) for cell in row))
    console.print(table)


def print_line(console: Console, text: str, style: str = "") -> None:
    """Print a sentence, folded at the words."""
    console.print(Text(text, style=style))


def warned(text: str) -> Text:
    """A cell that needs the reader; the words say so, not the colour alone."""
    return Text(text, style="bold yellow")
