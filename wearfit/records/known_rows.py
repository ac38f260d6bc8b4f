"""The rows that could have been written down by a past day."""

import datetime as dt
from collections.abc import Iterable
from typing import Final

from wearfit.records.identity import Row

BEGUN_ON: Final = {
    "tools": "commissioned_on", "runs": "started_on", "counter": "date", "events": "date", "readings": "date",
}  # fmt: skip


def known_by(rows: Iterable[Row], day: dt.date) -> list[Row]:
    """Rows of what had begun by the end of a day; the rest is left out before anything is read from rows side by side.

    Notes
    -----
    What a count counts, or what a counter was reset to, is told from rows together. `Records.as_of` cuts what was read from all of
    them; after this nothing of a later row has a part in it. Rows without a day of their own stay, the plan among them.
    """
    text = day.isoformat()
    return [row for row in rows if row.table not in BEGUN_ON or row.values.get(BEGUN_ON[row.table], "") <= text]
