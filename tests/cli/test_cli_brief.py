"""`brief`: one tagged page that says what the forecast says, the same bytes each time, never half a file."""

import calendar
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject
from run_command import Run

ONE_OF_EACH = (
    "T-049",
    "T-075",
    "T-088",
    "T-106",
    "T-066",
    "T-105",
    "T-042",
    "T-041",
)  # overdue, stored, idle, … held, worn, worn and ordered


def text_of(path: Path) -> str:
    (page,) = PdfReader(path).pages
    return " ".join(page.extract_text().split())


def in_month(day: str | None, beyond: str) -> str:
    return beyond if day is None else f"{calendar.month_abbr[int(day[5:7])]} {day[:4]}"


def in_day(day: str) -> str:
    return f"{int(day[8:])} {calendar.month_abbr[int(day[5:7])]} {day[:4]}"


@pytest.mark.parametrize("tool", ONE_OF_EACH)
def test_the_page_says_the_figures_of_the_forecast(wearfit: Run, demo_store: str, tool: str) -> None:
    said = wearfit("brief", tool, "--out", "brief.pdf", "--store", demo_store, "--json")
    assert said.status == 0, said.err
    document = wearfit("forecast", "--tool", tool, "--store", demo_store, "--json").document
    (forecast,) = document["tools"]
    text = text_of(Path("brief.pdf"))
    assert text.count(f"tool {tool} ") == 1
    assert document["fingerprint"] in text
    assert document["fingerprint"] == said.document["fingerprint"]
    assert "86 wear-outs, Weibull law. Asked for" in text
    assert said.document["law"] == "weibull"
    assert f"As of {in_day(document['as_of'])}" in text
    for caution in ("does not replace inspection by a competent person", "16 CFR 1501", "lock out before opening", "harmful gas"):
        assert caution in text
    assert [bool(re.search(rf"(?<!\d){n}\. ", text)) for n in (1, 2, 3, 4)] == [True, True, True, False]  # not the end of a year
    if forecast["status"] == "worn":
        due = forecast["replacement_due_on"]
        assert (f"due on {in_day(due)}" if due else "Order its replacement now") in text
        return
    low, likely, high = (forecast["wear_out_on"][q] for q in ("p10", "p50", "p90"))
    assert in_month(likely, "after 2036") in text
    if high is not None:
        assert f"between {in_month(low, '')} and {in_month(high, '')}" in text
    told = float(re.search(r"\(([\d.]+) %\)|under (0.1) %", text).expand(r"\1\2"))  # type: ignore[union-attr]
    assert told / 100 == pytest.approx(forecast["p_within_12_months"], abs=0.006)
    left = forecast["remaining_shots"]
    counts = [float(n.replace(",", "")) for n in re.search(r"([\d,]+) \(([\d,]+) to ([\d,]+)\)", text).groups()]  # type: ignore[union-attr]
    assert counts == pytest.approx([left["p50"], left["p10"], left["p90"]], rel=0.006)
    if forecast["status"] != "held":
        assert ("Order its replacement now." if forecast["overdue"] else f"by {in_day(forecast['order_by'])}.") in text


def test_it_is_tagged_for_who_does_not_see_it(wearfit: Run, demo_store: str) -> None:
    wearfit("brief", "T-106", "--out", "brief.pdf", "--store", demo_store)
    reader = PdfReader("brief.pdf")
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None and reader.metadata.title == "Tool T-106: when it wears out"
    assert b"pdfuaid:part>1" in root["/Metadata"].get_object().get_data()
    tags = [*tags_of(root["/StructTreeRoot"])]
    kinds = [tag["/S"] for tag in tags]
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") == 5
    assert kinds.count("/Figure") == 1
    assert kinds.count("/LI") == 3
    assert {"/P", "/Table", "/TH", "/TD", "/L"} <= set(kinds)
    (figure,) = (tag for tag in tags if tag["/S"] == "/Figure")
    on = wearfit("forecast", "--tool", "T-106", "--store", demo_store, "--json").document["tools"][0]["wear_out_on"]
    likely, early, late = (in_month(on[name], "after 2036") for name in ("p50", "p10", "p90"))
    assert f"likely {likely}; 8 in 10: {early} to {late}" in figure["/Alt"]


def tags_of(node: Any) -> Any:
    node = node.get_object()
    if isinstance(node, DictionaryObject):
        if "/S" in node:
            yield node
        inner = node.get("/K", [])
        for child in inner if isinstance(inner, list) else [inner]:
            yield from tags_of(child)


def test_made_twice_it_is_the_same_to_the_byte(wearfit: Run, demo_store: str) -> None:
    digests = [wearfit("brief", "T-049", "--out", f"{n}.pdf", "--store", demo_store, "--json").document["sha256"] for n in (1, 2)]
    assert Path("1.pdf").read_bytes() == Path("2.pdf").read_bytes()
    assert digests[0] == digests[1]


def test_another_day_gives_another_page(wearfit: Run, demo_store: str) -> None:
    assert wearfit("brief", "T-049", "--out", "x.pdf", "--as-of", "2026-09-30", "--store", demo_store).status == 0
    assert "As of 30 Sep 2026" in text_of(Path("x.pdf"))
    assert wearfit("brief", "T-049", "--out", "y.pdf", "--as-of", "2020-01-01", "--store", demo_store).status == 1
    assert not Path("y.pdf").exists()


def test_a_place_that_cannot_take_it_is_told_in_a_sentence(wearfit: Run, demo_store: str) -> None:
    Path("letter.pdf").write_text("mine", encoding="utf-8")
    Path("folder.pdf").mkdir()
    for out, why in (("no/x.pdf", "does not exist"), ("letter.pdf", "holds something else"), ("folder.pdf", "is a folder")):
        said = wearfit("brief", "T-049", "--out", out, "--store", demo_store)
        assert said.status == 2
        assert why in said.err
        assert "Traceback" not in said.err
    assert Path("letter.pdf").read_text(encoding="utf-8") == "mine"
    assert wearfit("brief", "T-999", "--out", "x.pdf", "--store", demo_store).status == 1
    assert sorted(path.name for path in Path().iterdir()) == ["folder.pdf", "letter.pdf"]
