"""Which upload brought each run and each ending of a history: batches of records by when they came."""

import json
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from wearfit.calibration import Calibration
from wearfit.records.choices import Choices
from wearfit.store.store import Store
from wearfit.workflow.known_names import known_tool
from wearfit.workflow.wording import day_in_words

if TYPE_CHECKING:
    from wearfit.evidence.courses import Courses
    from wearfit.evidence.left_out import Batches
    from wearfit.exposures.table import Exposures
    from wearfit.records.identity import Row

Array = np.ndarray
Came = dict[tuple[str, str], int]  # place of the upload, by tool and day


def upload_batches(store_url: str, calibration: Calibration, exposures: "Exposures", courses: "Courses") -> "Batches":
    """Batches by upload, the oldest first; a row counts with the upload that brought its newest version.

    Notes
    -----
    Runs reckoned from a counter, and times of standing, are told by no run on record: they count with the run before them in their life,
    and with none where there is none.
    """
    from wearfit.evidence.what_moved import last_pieces, named_batches

    with Store.open(store_url, must_exist=True) as store:
        uploads, choices = store.uploads(), store.choices()
        rows = [(row, newest.upload_id) for row, newest in store.versions() if not newest.withdrawn]
    place = {upload.id: i for i, upload in enumerate(uploads)}
    runs = _came((r for r in rows if r[0].table == "runs"), "started_on", place, calibration, choices)
    events = _came((r for r in rows if r[0].table == "events"), "date", place, calibration, choices)
    e, tool = exposures, exposures.tools.tool_id
    of_run = np.array([runs.get((tool[t], _iso(day)), -1) for t, day in zip(e.runs.tool, e.runs.start, strict=True)], dtype=np.int64)
    piece = np.append(of_run, -1)[courses.run]
    for i in np.flatnonzero(piece < 0):
        if i and courses.episode[i - 1] == courses.episode[i]:
            piece[i] = piece[i - 1]
    ending = last_pieces(e, courses, piece)
    ends = np.minimum(e.episodes.worn_at, e.episodes.closes)
    for episode in np.flatnonzero(np.isfinite(ends)):
        # An event placed by its count of shots keeps its own day in the records.
        ending[episode] = events.get((tool[e.episodes.tool[episode]], _iso(float(np.ceil(ends[episode] - 0.5)))), ending[episode])
    names = [f"{day_in_words(upload.at.date())} ({upload.name})" for upload in uploads]
    return named_batches("upload", names, piece, ending)


def _came(rows: "Iterable[tuple[Row, int]]", day: str, place: dict[int, int], calibration: Calibration, choices: Choices) -> Came:
    named: dict[str, str] = {}
    found: Came = {}
    for row, upload in rows:
        typed = row.values.get("tool_id") or json.loads(row.key)[0]
        if typed not in named:
            named[typed] = known_tool(typed, calibration, choices)
        when = (named[typed], row.values.get(day, "")[:10])
        found[when] = max(found.get(when, -1), place[upload])
    return found


def _iso(day: float) -> str:
    return str(np.datetime64(int(day), "D"))
