"""How much is read: bounds that no owner's history meets, so that no file can exhaust the machine."""

from dataclasses import dataclass
from typing import Final

MIB: Final = 1024 * 1024

# 1,048,576 rows of a dozen columns are some 60 MiB as XLSX and 100 MiB as text (measured: 48 and 45 bytes a row of 400,000); judgement.
FILE_BYTES: Final = 256 * MIB
# All files are held in memory as they came, to be stored; two large ones and their company. Judgement.
ALL_BYTES: Final = 512 * MIB
# A folder or archive holds a table or so a file, or one a plant and year; judgement.
FILES: Final = 1_000
# Entries of an archive, those that are not read included; judgement. A workbook has about five a sheet.
ENTRIES: Final = 10_000
# Longest cell of a text file; as long as the file may be, for a long cell costs itself alone. What fits a C long everywhere.
CELL_CHARACTERS: Final = FILE_BYTES

# Characters of a file's or sheet's name that a sentence quotes; judgement.
NAME: Final = 100


@dataclass(frozen=True)
class Bounds:
    """What is allowed of one sheet, one workbook and the process that reads it.

    Parameters
    ----------
    rows : int
        Of a sheet. A spreadsheet has at most 1,048,576, a text file of hourly climate may have more.
    columns : int
        Of a sheet: the most a spreadsheet has.
    cells : int
        Of all sheets, each counted as the block from its first filled row and column to its last: a reader makes room for all of
        it. 1,048,576 rows of 28 columns pass.
    sheets : int
        Of a workbook.
    unpacked_bytes : int
        Of the parts of a workbook, which are read as they unpack and never held. Measured: 41 bytes a cell.
    memory_bytes : int
        Address space of the process that reads a workbook. Measured: 0.4 GiB for 4.4 million cells.
    cpu_s, wall_s : int
        Time of that process. [s] Measured: 13 s for 4.4 million cells.
    """

    rows: int = 5_000_000
    columns: int = 16_384
    cells: int = 30_000_000
    sheets: int = 200
    unpacked_bytes: int = 3_072 * MIB
    memory_bytes: int = 5_120 * MIB
    cpu_s: int = 300
    wall_s: int = 600


BOUNDS: Final = Bounds()


def size_text(size: int) -> str:
    """A number of bytes as a person reads it."""
    return f"{size / MIB:,.0f} MiB" if size >= MIB else f"{size:,} bytes"
