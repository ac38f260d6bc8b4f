"""Which defects a note names, what it denies or says to be over, and which notes tell of a hazard."""

import pytest

from wearfit.records.notes import WITH_A_CHANCE, read_note


@pytest.mark.parametrize(
    ("note", "kinds"),
    [
        ("Flash", ("flash",)),
        ("flashing at cavity 3", ("flash_in_one_place",)),
        ("Flash growing", ("flash_in_one_place",)),
        ("burrs; same spot as last run", ("flash_in_one_place",)),
        ("flash everywhere on the first shots", ("flash_everywhere",)),
        ("Flash after set-up", ("flash_everywhere",)),
        ("flash at the parting line, all over", ("flash",)),
        ("burn marks at end of fill", ("burn",)),
        ("dieseling", ("burn",)),
        ("Short shots", ("short_shot",)),
        ("a short-shot in two", ("short_shot",)),
        ("sinks over the bosses", ("sink_or_warp",)),
        ("lid warped", ("sink_or_warp",)),
        ("outer dimension drifting", ("dimension",)),
        ("bore oversize", ("dimension",)),
        ("gate vestige too long", ("dimension",)),
        ("detail lost on the back face", ("detail",)),
        ("loss of gloss", ("detail",)),
        ("texture fading", ("detail",)),
        ("drag marks", ("drag",)),
        ("parts stick in the core", ("drag",)),
        ("weld line across the lens", ("surface",)),
        ("black specks", ("surface",)),
        ("colour streaks", ("surface",)),
        ("discoloured", ("surface",)),
        ("burn marks, and short shots", ("burn", "short_shot")),
    ],
)
def test_defects_by_their_words(note: str, kinds: tuple[str, ...]):
    assert read_note(note).defects == kinds
    assert read_note(note.upper()).defects == kinds


@pytest.mark.parametrize(
    "note",
    [
        "", "Stripped, cleaned and greased.", "short run", "welded and polished", "unfilled PP tried", "burnished", "sticker on the crate",
        "no flash", "No visible flash", "no flash or burn marks", "No flash, no sinks", "without any flash", "free of flash", "flash-free",
        "flash: none", "checked for flash, none found", "parts not sticking", "flash gone", "flash is now gone", "Flash ok",
        "short shots cured", "flash round the pin fixed", "neither flash nor burns",
    ],
)  # fmt: skip
def test_what_is_denied_or_over_does_not_count(note: str):
    assert not read_note(note).defects
    assert not read_note(note).hazard


@pytest.mark.parametrize(
    "note",
    ["flash not gone", "flash cannot be fixed", "flash to be fixed", "no change, flash", "no better, flash", "no burn marks but flash",
     "vents cleaned, not polished; flash", "flash, sinks gone", "no wear seen and flash"],
)  # fmt: skip
def test_a_denial_of_something_else_denies_nothing(note: str):
    assert read_note(note).defects == ("flash",)


@pytest.mark.parametrize(
    ("note", "kinds"),
    [
        ("sharp flash, parts quarantined", ("flash",)),
        ("Sharp edge at the gate.", ("sharp_edge",)),
        ("the flash is sharp", ("flash",)),
        ("peg broken off", ("loose_part",)),
        ("a wheel came off", ("loose_part",)),
        ("loose parts in the box; flash", ("flash", "loose_part")),
        ("eye is loose", ("loose_part",)),
    ],
)
def test_hazards(note: str, kinds: tuple[str, ...]):
    told = read_note(note)
    assert told.hazard
    assert told.defects == kinds


@pytest.mark.parametrize("note", ["no sharp flash", "no loose parts", "flash, but not sharp", "broken corner welded", "flash"])
def test_no_hazards(note: str):
    assert not read_note(note).hazard


def test_hazards_have_no_chance_of_their_own():
    assert not {"sharp_edge", "loose_part", "flash"} & set(WITH_A_CHANCE)
