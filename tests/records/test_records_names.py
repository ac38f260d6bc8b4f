"""Names as people type them: what is the same name, and what is near enough to be offered."""

import pytest

from wearfit.records.names import NEAR, bare_name, likeness_of, nearest_name, offer, plain_name

# Slips and shortenings as sheets hold them, and what is meant; and pairs of the trade that mean different things.
TRUE_PAIRS = (
    ("cavites", "cavities"), ("comissioned on", "commissioned_on"), ("Date comissioned", "date commissioned"), ("tool", "tools"),
    ("refurbished", "refurbish"), ("Shotts", "shots"), ("resine", "resin"), ("Toolnumbr", "tool number"), ("star date", "start date"),
    ("finish dt", "finish date"), ("scrap part", "scrap_parts"), ("active cavity", "active_cavities"), ("temprature", "temperature"),
    ("Relative humid.", "relative humidity"), ("plant nme", "plant name"), ("service clas", "service_class"), ("ended", "ended_on"),
    ("hist from", "history_from"), ("replacment cost", "replacement_cost"), ("Counter shot", "counter_shots"),
    ("shots total", "total shots"),
)  # fmt: skip
FALSE_PAIRS = (
    ("Werkzeug", "strokes"), ("Gate", "date"), ("Item", "temp"), ("Shift", "shots"), ("Press", "parts"), ("Machine", "maker"),
    ("Operator", "event"), ("Colour", "counter"), ("Rate", "date"), ("Customer", "counter"), ("Price", "plant"), ("Notes", "shots"),
    ("Part no", "parts"), ("Order no", "mould no"), ("Order number", "tool number"), ("Part number", "tool number"), ("Shop", "shots"),
    ("Store", "started"), ("invoices", "events"), ("costs", "tools"), ("Order date", "start date"), ("Due date", "end date"),
    ("Machine code", "plant code"), ("Tonnage", "tool name"), ("Room no", "tool no"), ("end time", "lead time"), ("Quality", "quantity"),
)  # fmt: skip


def test_the_cut_parts_slips_from_other_words():
    likenesses = [likeness_of(*pair) for pair in TRUE_PAIRS], [likeness_of(*pair) for pair in FALSE_PAIRS]
    assert min(likenesses[0]) >= NEAR > max(likenesses[1])


@pytest.mark.parametrize(("written", "meant"), TRUE_PAIRS)
def test_a_slip_is_offered_what_is_meant(written: str, meant: str):
    assert nearest_name(written, ["quite other", meant]) == meant


@pytest.mark.parametrize(("written", "other"), FALSE_PAIRS)
def test_another_word_is_offered_nothing(written: str, other: str):
    assert nearest_name(written, [other]) is None
    assert offer(written, [other], "Nothing needs doing.") == "Nothing needs doing."


def test_the_nearest_of_several_is_offered():
    assert offer("cavites", ["cavity_steel", "cavities", "setups"], "") == "If 'cavities' is meant, write that."


@pytest.mark.parametrize("written", ["Tool No.", "tool#", "TOOL_NO", " tool-no ", "Tool\u00a0No", "tool №"])
def test_bare_names_hold_letters_and_digits_alone(written: str):
    assert bare_name(written) == "toolno"


def test_american_spelling_is_the_same_name():
    assert bare_name("Mold maker") == bare_name("Mould-maker")
    assert plain_name("Mold") != plain_name("Mould")


@pytest.mark.parametrize("nothing", ["", " ", "—", "\u200b"])
def test_a_name_of_nothing_is_like_no_other(nothing: str):
    assert likeness_of(nothing, "tools") == 0
    assert nearest_name(nothing, ["tools", ""]) is None
