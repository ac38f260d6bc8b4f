"""The parts of a history's likelihood under a Weibull law, row by row, and their gradient: loops for compiled code.

`likelihood.history_terms` says what they are. Here a logarithm and an exponential are taken once for each point that counts: of the
ten thousand rows of a large history most are entered new, most wear-outs lie at the row's last good day, and a rise counts only over an
interval.
"""

from typing import Final

import numpy as np

from wearfit.law import LEAST_SPENT
from wearfit.model.data import EndedColumns, RowColumns
from wearfit.model.likelihood import LEAST_RISE, MOST_TOLD

Array = np.ndarray

CANDIDATE, PATH = RowColumns.candidate, RowColumns.path
ROW, INTERVAL, PERHAPS = EndedColumns.row, EndedColumns.interval, EndedColumns.perhaps
CAPACITY, SPLIT, GAIN, LOSS = EndedColumns.capacity, EndedColumns.split, EndedColumns.gain, EndedColumns.loss
NOWHERE: Final = -1e300  # log of the cumulative hazard where none has been spent
AT_ENTRY, AT_LAST = 0, 1  # columns of what is kept of a row
AT_END, RISEN_TO = 0, 1  # columns of what is kept of an ending


def row_terms(
    entry: Array, good: Array, end: Array, log_last: Array, log_eta: Array, log_shape: Array, share: Array,
    capacity: Array, log_stretch: Array, told: Array, row: Array, ended: Array,
) -> tuple[Array, Array, Array, Array, Array]:  # fmt: skip
    """`survived`, `exact` and `rise` of `likelihood.Terms`, and log H at the points at which rows and endings ask the law.

    Parameters
    ----------
    entry, good, end, log_last : (row,)
        As in `likelihood.Clock`.
    log_eta : (candidate,)
    log_shape, share : (1,)
        Log of k; the share of renewals of unstated cause that are by wear.
    capacity, log_stretch, told : (path,)
        As in `readings.Told`.
    row, ended
        Tables of `ModelData`.

    Returns
    -------
    survived (row,), exact (ended,), rise (ended,), by_row (row, 2), by_ended (ended, 2)
        The rise is `LEAST_RISE` where the day is known.
    """
    k, log_k = np.exp(log_shape[0]), log_shape[0]
    log_wear, log_other = np.log(share[0]), np.log1p(-share[0])
    survived, by_row = np.empty(len(row)), np.empty((len(row), 2))
    exact, rise, by_ended = np.empty(len(ended)), np.empty(len(ended)), np.empty((len(ended), 2))
    for r in range(len(row)):
        eta, path = log_eta[int(row[r, CANDIDATE])], int(row[r, PATH])
        last = capacity[path] if path > 0 else good[r]
        come, by_row[r, AT_ENTRY] = 0.0, NOWHERE
        if entry[r] > LEAST_SPENT:
            by_row[r, AT_ENTRY] = k * (np.log(entry[r]) - eta)
            come = np.exp(by_row[r, AT_ENTRY])
        by_row[r, AT_LAST] = k * (np.log(max(last, LEAST_SPENT)) - eta)
        survived[r] = come - np.exp(by_row[r, AT_LAST])
    for e in range(len(ended)):
        r, gain, loss = int(ended[e, ROW]), int(ended[e, GAIN]), int(ended[e, LOSS])
        eta, path = log_eta[int(row[r, CANDIDATE])], int(row[r, PATH])
        last = capacity[path] if path > 0 else good[r]
        at = capacity[gain] if ended[e, CAPACITY] > 0.0 else end[r]
        log_hazard = by_row[r, AT_LAST] if at == last else k * (np.log(max(at, LEAST_SPENT)) - eta)
        by_ended[e, AT_END] = log_hazard
        log_spent = log_hazard / k + eta
        if ended[e, PERHAPS] > 0.0 and ended[e, INTERVAL] <= 0.0:
            value = log_hazard - log_spent + eta
        else:
            value = log_hazard - log_spent + log_k + (log_stretch[gain] if ended[e, CAPACITY] > 0.0 else log_last[r])
        value += min(max(told[gain] - told[loss], -MOST_TOLD), MOST_TOLD)
        exact[e] = value + ended[e, SPLIT] * (log_wear if at < end[r] else log_other)
        rise[e], by_ended[e, RISEN_TO] = LEAST_RISE, NOWHERE
        if ended[e, INTERVAL] > 0.0:
            by_ended[e, RISEN_TO] = k * (np.log(max(end[r], LEAST_SPENT)) - eta)
            rise[e] = max(np.exp(by_ended[e, RISEN_TO]) - np.exp(by_row[r, AT_LAST]), LEAST_RISE)
    return survived, exact, rise, by_row, by_ended


def row_terms_back(
    entry: Array, good: Array, end: Array, log_last: Array, log_eta: Array, log_shape: Array, share: Array,
    capacity: Array, log_stretch: Array, told: Array, row: Array, ended: Array,
    rise: Array, by_row: Array, by_ended: Array, of_survived: Array, of_exact: Array, of_rise: Array,
) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array, Array, Array]:  # fmt: skip
    """Gradient by the first ten arguments of `row_terms`, given that by survived, exact and rise.

    Notes
    -----
    With L = log H = k (log D - log eta): dL = k dlog D - k dlog eta + L dlog k, and dH = H dL.
    """
    k = np.exp(log_shape[0])
    by_entry, by_good, by_end = np.zeros(len(row)), np.zeros(len(row)), np.zeros(len(row))
    by_log_last, by_eta, by_shape, by_share = np.zeros(len(row)), np.zeros(len(log_eta)), 0.0, 0.0
    by_capacity, by_stretch, by_told = np.zeros(len(capacity)), np.zeros(len(capacity)), np.zeros(len(capacity))
    of_last = np.empty(len(row))  # by the cumulative hazard at the last day known to be good
    for r in range(len(row)):
        of_last[r] = -of_survived[r]
    for e in range(len(ended)):
        r, gain, loss = int(ended[e, ROW]), int(ended[e, GAIN]), int(ended[e, LOSS])
        c, at_capacity, weight = int(row[r, CANDIDATE]), ended[e, CAPACITY] > 0.0, of_exact[e]
        in_doubt = ended[e, PERHAPS] > 0.0 and ended[e, INTERVAL] <= 0.0
        at = capacity[gain] if at_capacity else end[r]
        by_shape += weight * (by_ended[e, AT_END] + (0.0 if in_doubt else 1.0))
        by_eta[c] += weight * ((1.0 if in_doubt else 0.0) - k)
        # A wear spent that is nothing is taken for the least, from which it does not move.
        by_at = weight * (k - 1.0) / at if at > LEAST_SPENT else 0.0
        if at_capacity:
            by_capacity[gain] += by_at
        else:
            by_end[r] += by_at
        if not in_doubt:
            if at_capacity:
                by_stretch[gain] += weight
            else:
                by_log_last[r] += weight
        if abs(told[gain] - told[loss]) <= MOST_TOLD:
            by_told[gain] += weight
            by_told[loss] -= weight
        by_share += weight * ended[e, SPLIT] * (1.0 / share[0] if at < end[r] else -1.0 / (1.0 - share[0]))
        if ended[e, INTERVAL] > 0.0 and rise[e] > LEAST_RISE:
            of_last[r] -= of_rise[e]
            risen = of_rise[e] * np.exp(by_ended[e, RISEN_TO])
            by_shape += risen * by_ended[e, RISEN_TO]
            by_eta[c] -= k * risen
            if end[r] > LEAST_SPENT:
                by_end[r] += k * risen / end[r]
    for r in range(len(row)):
        c, path = int(row[r, CANDIDATE]), int(row[r, PATH])
        last = capacity[path] if path > 0 else good[r]
        through = of_last[r] * np.exp(by_row[r, AT_LAST])
        by_shape += through * by_row[r, AT_LAST]
        by_eta[c] -= k * through
        if last > LEAST_SPENT:
            if path > 0:
                by_capacity[path] += k * through / last
            else:
                by_good[r] += k * through / last
        if entry[r] > LEAST_SPENT:
            come = of_survived[r] * np.exp(by_row[r, AT_ENTRY])
            by_shape += come * by_row[r, AT_ENTRY]
            by_eta[c] -= k * come
            by_entry[r] = k * come / entry[r]
    return (
        by_entry, by_good, by_end, by_log_last, by_eta, np.array([by_shape]), np.array([by_share]),
        by_capacity, by_stretch, by_told,
    )  # fmt: skip
