"""The priors file: every number of it is read, a switch switches off, and what is wrong is refused by name."""

from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from priors_text import Place, changed, numbers, own_tables, switched_off, value_at, written

from wearfit.errors import Refusal
from wearfit.exposures.classes import CLASSES
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.coefficient_priors import NO_STORAGE
from wearfit.model.layout import CLASS_OFFSET, COEFFICIENTS, GROUPS, SHARES, coefficient_index
from wearfit.model.priors import Priors, parse_priors, read_priors
from wearfit.model.priors_file import FEATURE_ENTRIES, SWITCHES, own_priors_text
from wearfit.records.notes import WITH_A_CHANCE

NUMBERS = [place for place in numbers(own_tables()) if place != ("version",)]
OPTIONAL = ("slope", "sweating_within", "correlation")
NO_SWITCH = [
    ("band",),
    *(("band", c) for c in CLASSES[:-1]),
    ("own_band",),
    ("class_share",),
    ("steel_share",),
    ("past_use",),
    ("noted",),
    *(("noted", kind) for kind in WITH_A_CHANCE),
    ("noted_rate",),
    ("lead_time",),
    ("slope",),
    ("group",),
]


def entries(tables: dict[str, Any], under: Place = ()) -> list[Place]:
    """Places of the entries: the tables that state a meaning."""
    found = [under] if "meaning" in tables else []
    for key, value in tables.items():
        if isinstance(value, dict):
            found += entries(value, (*under, key))
    return found


ENTRIES = entries(own_tables())


def dotted(place: Place) -> str:
    return ".".join(place)


def differ(a: Priors, b: Priors) -> bool:
    """Whether two sets of priors differ in anything but their text."""
    return any(not np.array_equal(getattr(a, f.name), getattr(b, f.name)) for f in fields(Priors) if f.name != "text")


def refused(text: str) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        parse_priors(text)
    assert refusal.value.status == 2
    assert refusal.value.problem.endswith(".") and refusal.value.repair.endswith(".")
    return refusal.value


# --- what the file says ------------------------------------------------------------------------------------------------


def test_the_packages_own_file_is_read_and_kept() -> None:
    assert read_priors().text == own_priors_text()
    assert not differ(read_priors(), parse_priors(written(own_tables())))  # or the tests below would test another file


@pytest.mark.parametrize("place", ENTRIES, ids=dotted)
def test_every_entry_states_unit_meaning_and_source(place: Place) -> None:
    entry = value_at(own_tables(), place)
    for key in ("unit", "meaning", "source"):
        assert isinstance(entry[key], str) and entry[key].strip(), key


def test_every_number_belongs_to_an_entry_that_states_its_meaning() -> None:
    for place in NUMBERS:
        assert any(place[: len(entry)] == entry for entry in ENTRIES), place


@pytest.mark.parametrize("place", NUMBERS, ids=dotted)
def test_every_number_is_read(place: Place) -> None:
    other = 1.1 * value_at(own_tables(), place) + 0.01
    assert differ(parse_priors(changed((place, other))), read_priors())


def test_coefficients_have_the_moments_that_the_file_states() -> None:
    tables, priors = own_tables(), read_priors()
    covariance = priors.root @ priors.root.T

    def at(name: str) -> tuple[float, float]:
        i = coefficient_index(name)
        return priors.loc[i], np.sqrt(covariance[i, i])

    assert at("log_shape") == pytest.approx((np.log(tables["shape"]["median"]), tables["shape"]["log_sd"]))
    assert at("log_setup") == pytest.approx((np.log(tables["setup"]["median"]), tables["setup"]["log_sd"]))
    for rate, entry in tables["sudden"].items():
        assert at(f"log_sudden_{rate}") == pytest.approx((np.log(entry["median"]), entry["log_sd"]))
    storage = tables["storage"]
    assert at("log_storage") == pytest.approx((np.log(storage["rate"]["median"]), storage["rate"]["log_sd"]))
    for name in ("preserved", "corrosivity"):
        assert at(f"storage.{name}") == pytest.approx((storage[name]["loc"], storage[name]["sd"]))
    for kind in ("steel", "slope"):
        for name, entry in tables[kind].items():
            assert at(f"{kind}.{name}") == pytest.approx((entry["loc"], entry["sd"]))
    offset = tables["class_offset"]
    own = np.array([offset["class_sd"][c] for c in CLASSES])
    members = covariance[CLASS_OFFSET, CLASS_OFFSET]
    assert members == pytest.approx(offset["overall_sd"] ** 2 + np.diag(own**2), abs=1e-12)
    within, between = coefficient_index("slope.sweating_within"), coefficient_index("slope.sweating_between")
    slopes = tables["slope"]
    expected = 0.7 * slopes["sweating_within"]["sd"] * slopes["sweating_between"]["sd"]
    assert slopes["sweating_within"]["correlation"]["value"] == 0.7
    assert covariance[within, between] == pytest.approx(expected)
    # Nothing else is correlated.
    covariance[CLASS_OFFSET, CLASS_OFFSET] = covariance[within, between] = covariance[between, within] = 0.0
    assert covariance - np.diag(np.diag(covariance)) == pytest.approx(np.zeros_like(covariance), abs=1e-12)


def test_classes_that_move_as_one() -> None:
    """Without a deviation of their own the covariance of the class offsets is singular, which an owner may well want."""
    priors = parse_priors(changed(*((("class_offset", "class_sd", c), 0.0) for c in CLASSES)))
    members = (priors.root @ priors.root.T)[CLASS_OFFSET, CLASS_OFFSET]
    assert members == pytest.approx(np.full((len(CLASSES),) * 2, 0.4**2), abs=1e-12)


def test_without_a_correlation_slopes_are_independent() -> None:
    priors = parse_priors(changed((OPTIONAL, None)))
    covariance = priors.root @ priors.root.T
    assert covariance[coefficient_index("slope.sweating_within"), coefficient_index("slope.sweating_between")] == 0.0


# --- an owner's copy ---------------------------------------------------------------------------------------------------


def test_an_owners_copy_moves_the_band(tmp_path: Path) -> None:
    copy = tmp_path / "priors.toml"
    copy.write_text(own_priors_text().replace("cap = 500000", "cap = 600000"), encoding="utf-8-sig", newline="\r\n")
    own, theirs = read_priors(), read_priors(copy)
    moved = class_log_band(theirs, band_offsets(theirs)) - class_log_band(own, band_offsets(own))
    assert moved == pytest.approx(np.log(1.2) * np.array([0, 0, 1, 0, 0]), abs=1e-12)


def test_a_cap_may_be_edited_into_a_floor() -> None:
    cap, floor = {"cap": None, "share": None}, {"floor": 3e5, "probability": 0.1}
    band = parse_priors(changed(*((("band", "103", key), value) for key, value in {**cap, **floor}.items()))).bands[2]
    assert (band.life, band.probability) == (3e5, 0.1)


@pytest.mark.parametrize("entry", SWITCHES)
def test_off_switches_off(entry: str) -> None:
    """What is held, and that nothing else moves; that the likelihood then takes no notice is tested with its padding."""
    own, off = read_priors(), parse_priors(switched_off(entry))
    expected = {f.name: np.copy(getattr(own, f.name)) for f in fields(Priors) if f.name != "text"}
    kind, _, name = entry.partition(".")
    if entry in SHARES:
        expected["share_on"][list(SHARES).index(entry)] = 0.0
    elif kind == "group":
        expected["group_on"][GROUPS.index(name)] = 0.0
    elif entry == "undescribed_resin":
        expected["undescribed_loc"] = expected["undescribed_sd"] = np.array(0.0)
    elif kind == "reading" and name in FEATURE_ENTRIES:
        expected["feature_sd"][:, FEATURE_ENTRIES.index(name)] = 0.0
    else:
        names = {
            "reading": [f"reading.log_{name}_sd"],
            "class_offset": [f"class_offset.{c}" for c in CLASSES],
            "shape": ["log_shape"],
            "setup": ["log_setup"],
            "sudden": [f"log_sudden_{name}"],
        }.get(kind, ["log_storage"] if entry == "storage.rate" else [entry])
        held = [COEFFICIENTS.index(n) for n in names]
        covariance = own.root @ own.root.T
        covariance[held] = covariance[:, held] = 0.0
        assert off.root @ off.root.T == pytest.approx(covariance, abs=1e-12)
        if kind in ("steel", "coating", "slope", "storage"):
            expected["loc"][held] = NO_STORAGE if entry == "storage.rate" else 0.0
        expected["root"] = off.root
    for part, value in expected.items():
        assert np.array_equal(getattr(off, part), value), part


def test_every_effect_has_a_switch() -> None:
    assert {dotted(entry) for entry in ENTRIES} - set(SWITCHES) == {dotted(place) for place in NO_SWITCH if place in ENTRIES}


@pytest.mark.parametrize("question", [None, "", " "])
def test_a_noted_defect_needs_its_question(question: str | None) -> None:
    assert "[noted.burn] needs a text `question`" in refused(changed((("noted", "burn", "question"), question))).problem


# --- what is refused ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", NO_SWITCH, ids=dotted)
def test_what_cannot_be_switched_off_says_so(place: Place) -> None:
    assert dotted(place) in refused(changed(((*place, "off"), True))).problem


@pytest.mark.parametrize("place", ENTRIES, ids=dotted)
def test_a_missing_entry_is_named(place: Place) -> None:
    assert f"[{dotted(place)}]" in refused(changed((place, None))).problem
    assert f"[{dotted(place)}]" in refused(changed((place, 0.5))).problem  # a number where a table should be


@pytest.mark.parametrize("place", NUMBERS, ids=dotted)
def test_a_number_that_is_missing_or_none_is_named(place: Place) -> None:
    for value in (None, "0.3", True, float("nan"), float("-inf"), 10**400):
        problem = refused(changed((place, value))).problem
        entry, key = dotted(place[:-1]), place[-1]
        if place[:2] == ("band", "101") and key == "floor" and value is None:
            key = "cap"  # without a floor it is a cap that is missing
        assert f"[{entry}]" in problem and f"`{key}`" in problem, value


SIGNED = ("loc", "value")


@pytest.mark.parametrize("place", [p for p in NUMBERS if p[-1] not in SIGNED], ids=dotted)
def test_a_number_out_of_range_is_named(place: Place) -> None:
    problem = refused(changed((place, -0.1))).problem
    assert f"[{dotted(place[:-1])}]" in problem and place[-1] in problem and "-0.1" in problem


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ((("humidity",), {"loc": 0.1}), "humidity"),
        ((("slope", "sweating"), {"loc": 0.4, "sd": 0.3}), "slope.sweating"),
        ((("shape", "meidan"), 3.0), "shape.meidan"),
        ((("band", "106"), {"cap": 50, "share": 0.8}), "band.106"),
        ((("band", "103", "shar"), 0.7), "band.103.shar"),
        ((("class_offset", "class_sd", "106"), 0.3), "class_offset.class_sd.106"),
        ((("slope", "speed", "correlation"), {"with": "modification", "value": 0.5}), "slope.speed.correlation"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_an_entry_that_nothing_reads_is_named(change: tuple[Place, Any], named: str) -> None:
    assert f"{named}." in refused(changed(change)).problem


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ([(("band", "103", "floor"), 3e5), (("band", "103", "probability"), 0.2)], "[band.103]"),
        ([(("shape", "off"), "yes")], "[shape] off"),
        ([((*OPTIONAL, "with"), "humidity")], "humidity"),
        ([((*OPTIONAL, "with"), "sweating_within")], "sweating_within"),
        ([((*OPTIONAL, "value"), 1.0)], "value = 1"),
        ([(("lead_time", "p90_weeks"), 9)], "p90_weeks = 9"),
        ([(("group", "tool", "scale"), 0)], "scale = 0"),
        ([(("class_share", "share", c), 0) for c in CLASSES[:-1]], "[class_share]"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_contradicts_itself_is_named(changes: list[tuple[Place, Any]], named: str) -> None:
    assert named in refused(changed(*changes)).problem


@pytest.mark.parametrize("text", ["", "shape", "[shape]\nmedian = 3,5\n", own_priors_text() + "\n[shape]\nmedian = 2\n"])
def test_what_is_no_priors_file_is_refused(text: str) -> None:
    assert "priors file" in refused(text).problem


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(own_priors_text().encode().replace(b"judgement", b"caf\xe9"))
    for path in (tmp_path, tmp_path / "absent.toml", tmp_path / "latin.toml"):
        with pytest.raises(Refusal) as refusal:
            read_priors(path)
        assert str(path) in refusal.value.problem and refusal.value.status == 2
