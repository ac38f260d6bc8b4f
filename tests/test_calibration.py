"""A calibration to bytes and back, and bytes that are none."""

import pickle
from collections.abc import Callable
from dataclasses import fields, replace

import netCDF4
import numpy as np
import pytest

from wearfit.calibration import (
    FORMAT_VERSION,
    Calibration,
    DesignTable,
    Draws,
    FeaturePopulation,
    Identity,
    Levels,
    LiveTable,
    NotedTable,
    PlantTable,
    PriorDraws,
    ReadingTable,
    ReadTable,
    ResinTable,
    TrailTable,
    from_bytes,
    to_bytes,
)
from wearfit.calibration.saved import DRAW_BITS
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.errors import Refusal

GROUPS = {
    "levels": Levels, "draws": Draws, "prior": PriorDraws, "plants": PlantTable, "resins": ResinTable, "designs": DesignTable,
    "live": LiveTable, "reads": ReadTable, "readings": ReadingTable, "noted": NotedTable,
    "features": FeaturePopulation, "trail": TrailTable,
}  # fmt: skip
IDENTITY = Identity(
    as_of="2026-05-31", fingerprint="0f", seed=3, lives=7, wear_outs=2, log_band=(1.5, 2.5), lead_time_weeks=10.0, lead_time_log_sd=0.4,
    noted_power=2.0, diagnostics={"passed": False, "reasons": ["R-hat 1.2"], "rhat_max": 1.2}, priors='text = "häufig"\n',
)  # fmt: skip
NAMES = ("T-001", "Küste", "海辺", "", 'a name with , and "\n', "naïve 🏭")


def calibration_of(lengths: dict[str, int], seed: int = 1) -> Calibration:
    """Every array filled at random; dimensions that are not named have length 2."""
    rng = np.random.default_rng(seed)

    def values(dims: tuple[str, ...], kind: str) -> np.ndarray:
        shape = tuple(lengths.get(dim, 2) for dim in dims)
        if kind == "str":
            return np.resize(np.array(NAMES, dtype=object), shape)
        if kind.startswith("u"):
            return rng.integers(0, 256, shape).astype(kind)
        if kind.startswith("i"):
            return rng.integers(-1, 2, shape).astype(kind)
        numbers = rng.lognormal(0.0, 4.0, shape) * rng.choice([-1.0, 1.0], shape)
        return np.where(rng.random(shape) < 0.1, np.nan, numbers).astype(kind)

    parts = {name: cls(**{f.name: values(f.metadata["dims"], f.metadata["kind"]) for f in fields(cls)}) for name, cls in GROUPS.items()}
    return Calibration(identity=IDENTITY, **parts)


def assert_alike(ours: Calibration, theirs: Calibration, of_draws: Callable[[np.ndarray, np.ndarray], None]) -> None:
    """Equal in everything but the digits of the draws, which `of_draws` compares."""
    assert ours.identity == theirs.identity
    for name, cls in GROUPS.items():
        for f in fields(cls):
            a, b = getattr(getattr(ours, name), f.name), getattr(getattr(theirs, name), f.name)
            assert (a.shape, a.dtype) == (b.shape, b.dtype), (name, f.name)
            if f.metadata["kind"] == "f4":
                of_draws(a, b)
            else:
                np.testing.assert_array_equal(a, b, err_msg=f"{name}.{f.name}")


def within_the_digits_kept(a: np.ndarray, b: np.ndarray) -> None:
    np.testing.assert_allclose(a, b, rtol=2.0 ** -(DRAW_BITS + 1))


def test_what_is_read_is_written_as_it_was():
    """Draws near powers of ten and two among them."""
    calibration = from_bytes(shipped_calibration_bytes())
    rng, shape = np.random.default_rng(5), calibration.draws.tool.shape
    edges = np.float32(rng.choice([0.01, 0.1, 1.0, 2.0, 10.0], shape) * (1.0 + 1e-4 * rng.standard_normal(shape)))
    once = from_bytes(to_bytes(replace(calibration, draws=replace(calibration.draws, tool=edges))))
    assert (once.draws.tool != edges).any()
    assert_alike(from_bytes(to_bytes(once)), once, np.testing.assert_array_equal)


def test_what_is_written_is_read():
    calibration = calibration_of({"sample": 50, "tool": 6, "live": 5, "plant": 4})
    assert_alike(from_bytes(to_bytes(calibration)), calibration, within_the_digits_kept)


def test_draws_are_not_rounded_away_by_writing_them_again():
    once = from_bytes(to_bytes(calibration_of({"sample": 400, "tool": 6})))
    twice = from_bytes(to_bytes(once))
    thrice = from_bytes(to_bytes(twice))
    assert_alike(twice, once, within_the_digits_kept)
    assert_alike(thrice, twice, np.testing.assert_array_equal)


def test_draws_of_live_tools_take_two_bytes_each_and_stay_within_the_digits_kept():
    rng = np.random.default_rng(6)
    calibration = calibration_of({"sample": 300, "live": 4})
    draws = 1e5 * np.exp(rng.normal(0.0, 0.5, (300, 4)) * [1.0, 4.0, 0.0, 1.0])
    draws[:7, 3], draws[9, 0], draws[:, 2] = 0.0, np.nan, 12345.0
    given = replace(calibration, draws=replace(calibration.draws, wear_spent=draws.astype("f4"), opening_shots=np.zeros((300, 4), "f4")))
    once = from_bytes(to_bytes(given))
    np.testing.assert_allclose(once.draws.wear_spent, draws, rtol=4e-4)
    np.testing.assert_allclose(once.draws.wear_spent[:, 0], draws[:, 0], rtol=6e-5)
    assert not once.draws.opening_shots.any()
    twice = from_bytes(to_bytes(once))
    np.testing.assert_array_equal(twice.draws.wear_spent, once.draws.wear_spent)
    file = netCDF4.Dataset("calibration.nc", "r", memory=to_bytes(given))
    assert file["draws"]["wear_spent_codes"].dtype == "u2"


def test_what_answers_rest_on_does_not_depend_on_when_it_was_written():
    calibration = calibration_of({"sample": 20})
    assert_alike(from_bytes(to_bytes(calibration)), from_bytes(to_bytes(calibration)), np.testing.assert_array_equal)


def test_draws_that_are_read_when_asked_for_are_the_same():
    blob = shipped_calibration_bytes()
    at_once, later = from_bytes(blob), from_bytes(blob, draws_later=True)
    assert_alike(later, at_once, np.testing.assert_array_equal)
    assert later.draws.wear_spent is later.draws.wear_spent  # read once
    with pytest.raises(AttributeError, match="no_such_draws"):
        later.draws.no_such_draws  # noqa: B018


def test_draws_of_some_tools_are_unpacked_without_the_others():
    shipped = from_bytes(shipped_calibration_bytes())
    spent = shipped.draws.wear_spent.copy()
    spent[3:, 17] = np.nan
    blob = to_bytes(replace(shipped, draws=replace(shipped.draws, wear_spent=spent)))
    whole, later = (from_bytes(blob, draws_later=later) for later in (False, True))
    some = np.array([5, 0, 17])
    later.draws.fetch("wear_spent", "coefficient")
    for name in ("wear_spent", "characteristic_life", "opening_shots", "recorded_share"):
        np.testing.assert_array_equal(later.draws.of_tools(name, some), getattr(whole.draws, name)[:, some])
        np.testing.assert_array_equal(later.draws.unknown(name), np.isnan(getattr(whole.draws, name)).any(axis=0))
    assert "wear_spent" not in vars(later.draws)
    assert np.flatnonzero(later.unknown_age).tolist() == [17]
    changed = replace(later, draws=replace(later.draws, wear_spent=2.0 * whole.draws.wear_spent))
    np.testing.assert_array_equal(changed.of_live("wear_spent", some), 2.0 * whole.of_live("wear_spent", some))
    np.testing.assert_array_equal(changed.unknown_age, whole.unknown_age)


def test_draws_that_were_not_read_yet_go_to_another_process():
    blob = shipped_calibration_bytes()
    assert_alike(pickle.loads(pickle.dumps(from_bytes(blob, draws_later=True))), from_bytes(blob), np.testing.assert_array_equal)


@pytest.mark.parametrize(
    "empty",
    [("tool", "live", "noted"), ("plant",), ("resin", "design", "maker"), ("observation",), ("recent_month", "plan_month"), ("sample",)],
)
def test_empty_dimensions_stay_empty(empty: tuple[str, ...]):
    calibration = calibration_of(dict.fromkeys(empty, 0))
    back = from_bytes(to_bytes(calibration))
    assert_alike(back, calibration, within_the_digits_kept)
    assert ("sample" in empty) == (back.samples == 0)


def test_names_keep_their_script():
    back = from_bytes(to_bytes(calibration_of({"tool": len(NAMES), "plant": len(NAMES)})))
    assert back.levels.tool.tolist() == list(NAMES)
    assert back.levels.plant.tolist() == list(NAMES)
    assert all(isinstance(name, str) for name in back.live.status)


def test_coefficients_go_by_name():
    calibration = calibration_of({"coefficient": 3, "sample": 4})
    named = replace(calibration, levels=replace(calibration.levels, coefficient=np.array(["a", "b", "c"], dtype=object)))
    assert named.coefficient_index("b") == 1
    np.testing.assert_array_equal(named.coefficient("b"), calibration.draws.coefficient[:, 1].astype(float))


def test_arrays_that_do_not_fit_together_are_not_written():
    calibration = calibration_of({})
    longer = replace(calibration, designs=DesignTable(seen=np.zeros(5, dtype="i1")))
    with pytest.raises(ValueError, match="design"):
        to_bytes(longer)
    flat = replace(calibration, plants=replace(calibration.plants, level=np.zeros(2)))
    with pytest.raises(ValueError, match="level has 1 dimensions"):
        to_bytes(flat)


@pytest.mark.parametrize("blob", [b"", b"no calibration", b"\x89HDF\r\n\x1a\n" + bytes(500), b"CDF\x01" + bytes(100)])
def test_bytes_that_are_no_calibration_are_refused(blob: bytes):
    with pytest.raises(Refusal, match="cannot be read") as refused:
        from_bytes(blob)
    assert refused.value.status == 1


def test_another_netcdf_file_is_refused():
    file = netCDF4.Dataset("other.nc", "w", memory=1 << 16)
    file.setncattr("title", "temperatures")
    other = bytes(file.close())
    with pytest.raises(Refusal, match="cannot be read"):
        from_bytes(other)


@pytest.mark.parametrize("share", [0.001, 0.3, 0.7, 0.99])
def test_a_file_cut_short_is_refused(share: float):
    blob = shipped_calibration_bytes().rstrip(b"\0")  # the file is written in whole blocks, whose rest holds nothing
    with pytest.raises(Refusal, match="cannot be read"):
        from_bytes(blob[: int(share * len(blob))])


@pytest.mark.parametrize("later", [False, True], ids=["read at once", "draws read later"])
def test_a_file_with_a_broken_byte_is_refused_or_read_but_never_breaks_the_reader(later: bool):
    """The store's digest finds every change; without it most are found by the checksums of the compressed draws."""
    blob, rng = shipped_calibration_bytes(), np.random.default_rng(5)
    refused = 0
    for place in rng.integers(0, len(blob), 25):
        broken = bytearray(blob)
        broken[place] ^= 0xFF
        try:
            found = from_bytes(bytes(broken), draws_later=later)
            for f in fields(found.draws):
                getattr(found.draws, f.name)
        except Refusal:
            refused += 1
    assert refused > 15


def test_another_format_is_refused_and_says_which():
    calibration = calibration_of({})
    future = replace(calibration, identity=replace(IDENTITY, format_version=FORMAT_VERSION + 1))
    with pytest.raises(Refusal, match=f"format {FORMAT_VERSION + 1}, this wearfit reads format {FORMAT_VERSION}"):
        from_bytes(to_bytes(future))


def test_a_calibration_of_the_format_before_is_read_and_written_as_of_this_one(monkeypatch: pytest.MonkeyPatch):
    """Draws of live tools stood there as numbers, a sample a row."""
    calibration = calibration_of({})
    with monkeypatch.context() as before:
        before.setattr("wearfit.calibration.saved.can_be_coded", lambda values: False)
        older = to_bytes(replace(calibration, identity=replace(IDENTITY, format_version=FORMAT_VERSION - 1)))
    file = netCDF4.Dataset("calibration.nc", memory=older)
    assert "wear_spent" in file["draws"].variables
    file.close()
    read = from_bytes(older)
    assert_alike(read, calibration, within_the_digits_kept)
    assert read.identity.format_version == FORMAT_VERSION
    assert_alike(from_bytes(to_bytes(read)), calibration, within_the_digits_kept)


def test_a_calibration_that_lacks_a_part_is_refused():
    file = netCDF4.Dataset("calibration.nc", "w", memory=1 << 16)
    file.setncattr_string("identity", f'{{"format_version": {FORMAT_VERSION}, "log_band": []}}')
    bare = bytes(file.close())
    with pytest.raises(Refusal, match="cannot be read"):
        from_bytes(bare)


def test_draws_that_were_not_read_yet_are_written():
    blob = shipped_calibration_bytes()
    assert_alike(from_bytes(to_bytes(from_bytes(blob, draws_later=True))), from_bytes(blob), within_the_digits_kept)
