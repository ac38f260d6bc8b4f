"""Files spoilt on purpose: what a bad line, a full disk, a wrong editor or a tired hand makes of good ones."""

import io
import zipfile
from collections.abc import Sequence
from random import Random
from typing import Final

import xlsxwriter

ODD_CELLS: Final = (
    "", " ", "-", "–", "n/a", "#REF!", "#N/A", "nan", "inf", "-inf", "-0", "1e308", "1e-308", "1e999", "9" * 400, "0x10",
    "1_000", "１２", "٣", "1,2,3", "1.234.567,8", "1,234,567.8", "1 234", "12,500", "12.500", "(5)", "5-", "10-12", "<0.02",
    "<", "12k", "3 mio", "45 %", "30 s", "0000-00-00", "2024-02-30", "2024-13-01", "1899-12-31", "2101-01-01", "9999-12-31",
    "31.12.2023", "12/31/2023", "3/4/05", "29.02.1900", "20240331", "45000", "60", "2958466", "-1", "3-Mar-24", "Mar 2024",
    "2024-W12", "KW 12", "2024-03-31T25:00", "2024-03-31T14:00Z", "24:00", "yes", "x", "=1+1", "@SUM(A1)", "+1", "\x00",
    "\x07", "\x1b[31m", "\u200b", "\u202e", "\ufeff", "\ud7ff", "😀", "a\nb", 'a"b', "'", "\t", ";", "tool_id", "Total",
    "Subtotal", "Printed on", "T" * 300, "Z" * 11_000,
)  # fmt: skip


def spoil(content: bytes, random: Random) -> bytes:
    """Bytes with a few of them flipped, lost, repeated, moved, or put in from elsewhere."""
    spoilt = bytearray(content)
    for _ in range(random.randint(1, 4)):
        if not spoilt:
            break
        start = random.randrange(len(spoilt))
        stop = min(len(spoilt), start + random.choice((1, 2, 16, 200)))
        way = random.randrange(6)
        if way == 0:
            spoilt[start] ^= 1 << random.randrange(8)
        elif way == 1:
            del spoilt[start:]
        elif way == 2:
            del spoilt[start:stop]
        elif way == 3:
            spoilt[stop:stop] = spoilt[start:stop] * random.choice((1, 2, 50))
        elif way == 4:
            spoilt[start:stop] = random.randbytes(stop - start)
        else:
            piece = bytes(spoilt[start:stop])
            del spoilt[start:stop]
            elsewhere = random.randrange(len(spoilt) + 1)
            spoilt[elsewhere:elsewhere] = piece
    return bytes(spoilt)


def spoil_inside(content: bytes, random: Random) -> bytes:
    """An archive with one member spoilt, and packed again so that its checksums hold."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = [(entry.filename, archive.read(entry)) for entry in archive.infolist()]
    chosen = random.randrange(len(members))
    way = random.randrange(8)
    if way == 0:
        del members[chosen]
    elif way == 1:
        members.append((f"again/{members[chosen][0]}", members[chosen][1]))
    else:
        members[chosen] = (members[chosen][0], spoil(members[chosen][1], random))
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, member in members:
            archive.writestr(zipfile.ZipInfo(name), member)
    return made.getvalue()


def spoil_cells(rows: Sequence[Sequence[str]], random: Random) -> list[list[str]]:
    """Rows with odd cells, and with rows and columns lost, doubled or moved.

    The header mostly stays as it is: without it hardly anything is read, and nothing is learnt of what comes after.
    """
    spoilt = [list(row) for row in rows]
    first = 1 if random.random() < 0.85 else 0
    for _ in range(random.choice((1, 1, 2, 3, 8))):
        if len(spoilt) <= first:
            return spoilt
        row = random.randrange(first, len(spoilt))
        if not spoilt[row]:
            continue
        cell = random.randrange(len(spoilt[row]))
        way = random.randrange(12)
        if way < 7:
            spoilt[row][cell] = random.choice(ODD_CELLS)
        elif way == 7:
            odd = random.choice(ODD_CELLS)
            for other in spoilt[1:]:
                if cell < len(other):
                    other[cell] = odd
        elif way == 8:
            spoilt.insert(random.randrange(first, len(spoilt) + 1), list(spoilt[row]))
        elif way == 9:
            del spoilt[row]
        elif way == 10 and first == 0:
            for other in spoilt:
                del other[cell : cell + 1]
        else:
            spoilt.insert(row, [""] * random.randrange(4) + spoilt[row])
    return spoilt


def as_text(rows: Sequence[Sequence[str]], delimiter: str) -> bytes:
    """Rows as text with every cell quoted that needs it."""

    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in (delimiter, '"', "\n", "\r")) else cell

    return "".join(delimiter.join(map(quoted, row)) + "\n" for row in rows).encode("utf-8", "surrogatepass")


def number_in(cell: str) -> float | None:
    """The number that a cell of a workbook could hold in place of its text."""
    try:
        number = float(cell)
    except ValueError:
        return None
    return number if abs(number) < 1e300 else None  # a sheet holds neither nan nor infinity


def as_workbook(sheets: Sequence[tuple[str, Sequence[Sequence[str]]]], random: Random | None = None) -> bytes:
    """Sheets as a workbook, numbers as numbers; by chance some of them as text or as days."""
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    dates = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows in sheets:
        sheet = book.add_worksheet(name[:31])
        for y, row in enumerate(rows):
            for x, cell in enumerate(row):
                number = number_in(cell)
                if number is None or (random and random.random() < 0.2):
                    sheet.write_string(y, x, cell[:32_000])
                else:
                    sheet.write_number(y, x, number, dates if random and random.random() < 0.05 else None)
    book.close()
    return made.getvalue()
