"""Contrast matrices, buckets and where effects lie among the parameters."""

import numpy as np
import pytest

from wearfit.model.layout import COEFFICIENTS, CONTRASTED, GROUPS, Layout, bucket, contrast, unseen_scale

SEEN = [
    np.array([True, True]),
    np.array([True, False, True, True, False]),
    np.ones(7, dtype=bool),
    np.arange(40) % 3 != 0,
]


@pytest.mark.parametrize("seen", SEEN, ids=lambda seen: f"{seen.sum()} of {len(seen)}")
def test_contrast(seen: np.ndarray) -> None:
    slots = bucket(len(seen))
    q, levels = contrast(seen, slots), int(seen.sum())
    padded = np.append(seen, np.zeros(slots - len(seen), dtype=bool))
    columns = q[:, : levels - 1]
    assert columns.T @ columns == pytest.approx(np.eye(levels - 1), abs=1e-12)
    assert q.sum(axis=0) == pytest.approx(np.zeros(slots), abs=1e-12)  # effects sum to zero
    assert not q[:, levels - 1 :].any()  # null directions
    assert not q[~padded].any()  # levels not seen, and padding
    # Exchangeable: every level has the same variance, every pair the same covariance, as for deviations from a mean.
    expected = np.where(np.outer(padded, padded), np.eye(slots) - 1.0 / levels, 0.0)
    assert q @ q.T == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("levels", [0, 1])
def test_contrast_of_a_lone_level_is_null(levels: int) -> None:
    assert not contrast(np.arange(3) < levels, 8).any()


@pytest.mark.parametrize("levels", [1, 2, 9])
def test_a_level_not_seen_lies_about_the_mean_of_those_seen(levels: int) -> None:
    """With independent levels of scale one, the variance of a new level less that mean."""
    weights = np.append(1.0, np.full(levels, -1.0 / levels))
    assert unseen_scale(levels) == pytest.approx(np.sqrt(weights @ weights), rel=1e-12)


@pytest.mark.parametrize(("levels", "slots"), [(0, 8), (7, 8), (8, 16), (15, 16), (16, 32), (2500, 4096)])
def test_bucket_keeps_its_last_slot_free(levels: int, slots: int) -> None:
    assert bucket(levels) == slots > levels


def test_blocks_lie_end_to_end() -> None:
    layout = Layout.fitting(plants=7, resins=9, designs=40, makers=5)
    spans = [layout.block(name) for name, _ in layout.blocks]
    assert [span.start for span in spans] == [0, *(span.stop for span in spans[:-1])]
    assert spans[-1].stop == layout.size == layout.scaled + layout.unscaled
    assert len(layout.group_of_slot()) == layout.scaled
    assert tuple(name for name, _ in layout.blocks[: len(CONTRASTED)]) == CONTRASTED
    assert layout.block(CONTRASTED[-1]).stop == layout.contrasted
    for name, slots in layout.blocks:
        if name in GROUPS:
            assert (layout.group_of_slot()[layout.block(name)] == GROUPS.index(name)).all()
        assert (name in GROUPS) == (layout.block(name).stop <= layout.scaled)
        places = layout.parameter(name, np.array([0, -1]))
        assert places.tolist() == [len(COEFFICIENTS) + layout.block(name).start, len(COEFFICIENTS) + layout.block(name).start + slots - 1]
    with pytest.raises(KeyError):
        layout.block("climate")
