"""Records that say too much for a preview: every running tool of the demo is said to have worn out at once."""

from pathlib import Path

from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.answers import forecast


def store_surprise(store: str, folder: Path) -> None:
    """Store them, dated after all that the store holds."""
    folder.mkdir()
    running = [tool for tool in forecast(store)["tools"] if tool["status"] == "running" and tool["conditions"]["resins"]]
    runs = [f"{t['tool_id']},{t['plant_id']},{t['conditions']['resins'][0]},2026-07-02,2026-07-03,900" for t in running]
    events = [f"{t['tool_id']},2026-07-03,worn" for t in running]
    for name, head, rows in (
        ("runs", "tool_id,plant_id,resin_id,started_on,ended_on,shots", runs),
        ("events", "tool_id,date,event", events),
    ):
        (folder / f"{name}.csv").write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    with Store.open(store) as opened:
        opened.add_upload(read(folder))
