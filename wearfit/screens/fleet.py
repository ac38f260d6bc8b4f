"""Fleet: when each tool is done, and what needs a decision now."""

from wearfit.screens import cached, shell
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, downloads, table


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Fleet", _draw)


def _draw(answering: Answering) -> None:
    tools = cached.fleet(answering)["tools"]
    columns = ("Tool", "Plant", "Status", "Order by", "Early", "Likely", "Late")
    rows = [(t["tool_id"], t["plant_id"], t["status"], t["order_by"], *(t["wear_out_on"][q] for q in ("p10", "p50", "p90"))) for t in tools]
    numbers = Numbers("fleet", columns, rows)
    table(numbers, "Every live tool with its order day and its early, likely and late wear-out day.", "fleet")
    downloads(numbers, "fleet", workbook=True)


if __name__ == "__main__":
    show()
