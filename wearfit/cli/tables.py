"""Tables as all commands print them."""

from collections.abc import Iterable, Sequence
from typing import Final

from rich import box
from rich.cells import cell_len
from rich.console import Console
from rich.segment import Segment, Segments
from rich.table import Table
from rich.text import Text

Cell = str | Text

WIDE: Final = 120  # columns of a screen from which a table shows more
MANY: Final = 200  # rows that the library lays out: it takes a millisecond for each, ten seconds for ten thousand
BETWEEN: Final = "  "  # columns of a table of the library's


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
    cells = [[cell if isinstance(cell, Text) else Text(cell) for cell in row] for row in rows]
    table = Table(
        title=Text(title, style="bold"),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        header_style="bold",
    )
    widths = _widths(columns, cells) if len(cells) > MANY else []
    long = bool(widths) and sum(widths) + len(BETWEEN) * len(widths) <= console.width
    for place, name in enumerate(columns):
        width = widths[place] if long else None
        table.add_column(name, justify="right" if name in right else "left", overflow="fold", min_width=width)
    for row in cells[:MANY] if long else cells:
        table.add_row(*row)
    if long:
        _print_long(console, table, cells[MANY:], widths)
    else:
        console.print(table)


def _print_long(console: Console, table: Table, rest: Sequence[Sequence[Text]], widths: Sequence[int]) -> None:
    """Print a table with more rows than it has, all of them in columns of these widths."""
    *lines, under_it = console.render_lines(table, pad=False)
    to_right = [column.justify == "right" for column in table.columns]
    for line in lines:
        console.print(Segments([*line, Segment.line()]), end="")
    for start in range(0, len(rest), MANY):
        console.print(Text("\n").join(_line(row, widths, to_right) for row in rest[start : start + MANY]), soft_wrap=True)
    console.print(Segments([*under_it, Segment.line()]), end="")


def _widths(columns: Sequence[str], cells: Sequence[Sequence[Text]]) -> list[int]:
    """How wide columns are where nothing is folded."""
    heads = [max(map(cell_len, name.split("\n"))) for name in columns]
    return [max(head, *(cell.cell_len for cell in column)) for head, column in zip(heads, zip(*cells, strict=True), strict=True)]


def _line(row: Sequence[Text], widths: Sequence[int], to_right: Sequence[bool]) -> Text:
    """A row as the library lays it out where nothing is folded."""
    line = Text(" ")
    for place, (cell, width, right) in enumerate(zip(row, widths, to_right, strict=True)):
        blank = " " * (width - cell.cell_len)
        line.append(BETWEEN if place else "").append(blank if right else "").append_text(cell).append("" if right else blank)
    return line


def print_line(console: Console, text: str, style: str = "") -> None:
    """Print a sentence, folded at the words."""
    console.print(Text(text, style=style))


def warned(text: str) -> Text:
    """A cell that needs the reader; the words say so, not the colour alone."""
    return Text(text, style="bold yellow")
