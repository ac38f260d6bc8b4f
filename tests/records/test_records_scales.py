"""Lines above and below a table that say in what its counts stand."""

import pytest
from grids import AS_IT_STANDS, grid

from wearfit.records.sheets.header_units import speaks_of_thousands
from wearfit.records.sheets.locate import locate

RUNS = "tool_id|plant_id|resin_id|started_on|ended_on|shots\nT1|Heath|R1|2020-01-10|2020-01-19|10"


@pytest.mark.parametrize(
    "line", ["in thousands", "(in thousands)", "Shots in '000", "All shots in 1,000.", "shots x1000", "Figures in k", "in 1000 shots"]
)
def test_lines_that_speak_of_thousands(line: str):
    assert speaks_of_thousands(line)
    for text in (f"{line}|||||\n{RUNS}", f"{RUNS}\n{line}|||||", f"{RUNS}\n|||||\n{line}|||||"):
        (region,), findings = locate([grid("runs", text)], AS_IT_STANDS)
        assert len(region.body) - sum(region.grid.cells[row][0] == "" for row in region.body) == 1
        (told,) = [finding for finding in findings if "may say that counts stand in thousands" in finding.problem]
        assert told.severity == "note" and "'Shots [k]'" in told.repair


@pytest.mark.parametrize("line", ["Tool 1000 is new", "Production log 2000", "printed on 3 March", "Checked in week 12", "Line K"])
def test_other_lines(line: str):
    assert not speaks_of_thousands(line)
