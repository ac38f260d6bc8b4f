"""Names that are one for certain, names that are near, and names that are neither."""

from itertools import combinations

import pytest

from wearfit.records.spellings import SHORTEST_OF_RESINS, are_near, name_index, one_name, script_of, spelling_key

SAME = (
    ("North Works", "north works"), ("North Works", "North-Works"), ("North_Works", "NORTHWORKS"), ("North  Works", "North Works"),
    ("T\u2013104", "T-104"), ("T\u2014104", "T-104"), ("T\u2011104", "T 104"), ("T\u2212104", "T-104"),
    ("\uff34\uff0d\uff11\uff10\uff14", "T-104"), ("North\u3000Works", "North Works"),
    ("\u0422-104", "T-104"), ("N\u043erth W\u043erks", "North Works"), ("\u0421\u0420-7", "cp-7"), ("\u0392-12", "B-12"),
    ("T-1O4", "T104"), ("T-1OO4", "T1004"), ("N0rth", "North"), ("O\u2019Hara", "O'Hara"),
    ("PA66-GF30", "PA66 GF30"), ("pvc-p", "PVCP"), ("Hall (east)", "hall(East)"),
)  # fmt: skip
OTHERS = (
    ("T-1-04", "T-104"), ("PA6-6", "PA66"), ("T104\u00b2", "T1042"), ("T104\u2460", "T1041"), ("PP-\u03b2", "PP-B"), ("PA66", "PA6"),
    ("A-", "A"), ("\u041c\u043e\u0441\u0442", "Mosm"), ("TO4", "T04"), ("1.05", "105"), ("PC/ABS", "PCABS"),
)  # fmt: skip
NEAR = (
    ("North Works", "North Work"), ("North Works", "Nroth Works"), ("Harbour", "Harbor"), ("T0104", "T104"), ("plant 1", "plant 01"),
    ("TO4", "T04"), ("Müllerei", "Mullerei"), ("shelf braket 2", "Shelf-Bracket 2"), ("T1-A2", "T1A-2"),
)  # fmt: skip
FAR = (
    ("plant 1", "plant 2"), ("plant 1", "plant 11"), ("PA66", "PA6"), ("tool-12", "tool-21"), ("hall a", "hall b"), ("peg-8a", "peg-8b"),
    ("T-104", "T-104A"), ("clip holder-8", "clip holder-8a"), ("typea", "typeb"), ("hdpe-blue", "ldpe-blue"), ("PP", "PE"),
    ("Plant II", "Plant III"), ("Plant II", "Plant 11"), ("1.05", "1.5"), ("PO-1", "P-1"), ("northeast", "northwest"),
    ("upper hall", "lower hall"), ("East", "West"), ("valley", "alley"), ("maker-03", "maker-07"), ("Works", ""),
)  # fmt: skip
SYMBOLS = ("ABS", "ASA", "HDPE", "LDPE", "LLDPE", "PBT", "PET", "PETG", "PP", "PPE", "PPS", "PVC-P", "PVC-U", "SAN", "TPE", "TPU", "PVDF")


@pytest.mark.parametrize(("one", "other"), SAME)
def test_what_looks_the_same_is_one_name(one: str, other: str):
    assert spelling_key(one) == spelling_key(other)
    assert one_name([one, other])


@pytest.mark.parametrize(("one", "other"), OTHERS)
def test_what_does_not_is_not(one: str, other: str):
    assert spelling_key(one) != spelling_key(other)


@pytest.mark.parametrize("word", ["ВОСТОК", "ПЛОЩАДКА", "ΑΘΗΝΑ", "ŁÓDŹ", "STRASSE"])
def test_case_plays_no_part_in_any_script(word: str):
    assert spelling_key(word) == spelling_key(word.lower())


def test_numbered_parts_must_be_parted_alike():
    assert one_name(["t-207", "t207", "T 207"])
    assert one_name(["Salt QuayWest", "SaltQuay West"])
    assert spelling_key("T1-A2") == spelling_key("T1A-2") and not one_name(["T1-A2", "T1A-2"])


@pytest.mark.parametrize(("one", "other"), NEAR)
def test_slips_are_near_and_found(one: str, other: str):
    assert are_near(one, other) and are_near(other, one)
    assert name_index([other, "zebra", one]).near(one) == [other]


@pytest.mark.parametrize(("one", "other"), FAR)
def test_series_symbols_and_other_words_are_not(one: str, other: str):
    assert not are_near(one, other) and not are_near(other, one)
    assert name_index([other]).near(one) == []


@pytest.mark.parametrize("behind", ["", "-natural", " 30"])
def test_symbols_of_polymers_are_never_near(behind: str):
    names = [symbol + behind for symbol in SYMBOLS]
    assert not [pair for pair in combinations(names, 2) if are_near(*pair, SHORTEST_OF_RESINS)]
    assert are_near("hdpe-natural", "HDPE natual", SHORTEST_OF_RESINS)


def test_the_index_finds_what_a_look_at_every_pair_finds():
    words = (
        "harbour",
        "harbor",
        "harbours",
        "hrabour",
        "harb0ur",
        "harbour 1",
        "harbor 01",
        "harbour 2",
        "Harbour-1",
        "quay harbour",
        "quey harbour",
    )
    index = name_index(words)
    for word in words:
        assert index.near(word) == sorted(other for other in words if are_near(word, other))


def test_letters_of_other_scripts_are_named():
    assert [script_of(name) for name in ("\u0422-104", "\u0392-12", "T-104", "Łódź")] == ["Cyrillic", "Greek", "", ""]
