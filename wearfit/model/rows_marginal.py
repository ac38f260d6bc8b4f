"""`tool_marginal` under any law: a tool's effect reaches each of its rows by the level, and the rows do not collapse into one sum.

A tool effect t adds x = -k t to the level of all that its rows went through. With s = k sigma, u = x / s, the candidate's likelihood is

    integral of  exp(sum_r [H(entry_r + x) - H(last_r + x)] + sum_e gain_e(x))  N(u; 0, 1) du,

H a function of the level (`law_kernel`), gain_e = log of dH by the level + `exact` of a wear-out on a day that is known, and as in
`tool_marginal` where day or cause is in doubt. Rule and derivatives are those of `tool_marginal`: the trapezium's from about the
mode, and means over the nodes. A gain's own parts of the level are handed in as levels, so that all derivatives come from here.
"""

from math import exp, log, pi, sqrt

import numpy as np
from numba.extending import register_jitable

from wearfit.model.law_kernel import bend, log_rise_and_slope, missed_and_through, total_rise_slope
from wearfit.model.tool_marginal import CANDIDATE, INTERVAL, LEAST, MOST_NODES, PERHAPS, ROW, STEP, WIDEST

Array = np.ndarray

NEGLIGIBLE = 11.0  # [nat] below the highest node; more than in `tool_marginal`, for the tails here are wide
LEAST_RISE = 1e-300
UNWORN = -60.0  # a level below which nothing has been survived
TURNS = 60
CLOSE = 0.01  # of a step: where the nodes stand must not jump as parameters move
FURTHEST = 3.0  # of x, in one turn
OF_ENTRY, OF_LAST, TOTAL_LAST = range(3)  # of a row at a node: derivatives by its levels, and H at the last
OF_EXACT, OF_AT, OF_END, OF_ROWS_LAST, OF_SHARE = range(5)  # of an ending


@register_jitable
def end_of_candidate(candidate: int, row: Array, ended: Array, first_row: int, first_end: int) -> tuple[int, int]:
    """Where the rows and the endings of a candidate end, which begin at these."""
    last_row, last_end = first_row, first_end
    while last_row < len(row) and int(row[last_row, CANDIDATE]) == candidate:
        last_row += 1
    while last_end < len(ended) and int(ended[last_end, ROW]) < last_row:
        last_end += 1
    return last_row, last_end


@register_jitable
def at_node(
    law: int, x: float, share: float, levels: tuple[Array, Array, Array, Array, Array], ended: Array, rows: Array, ends: Array,
    first_row: int, last_row: int, first_end: int, last_end: int,
) -> tuple[float, float, float]:  # fmt: skip
    """Log-likelihood of one candidate at an effect, its derivative by x, and about minus its second one.

    `levels` are entry, last (row,), exact, at, end (ended,); what each row and ending says goes into `rows` (row, 3) and `ends` (ended, 5).
    """
    entry, last, exact, at, end = levels
    value, slope, curvature = 0.0, 0.0, 0.0
    for r in range(first_row, last_row):
        total, rise, steep = total_rise_slope(law, last[r] + x)
        rows[r, OF_LAST], rows[r, TOTAL_LAST] = -rise, total
        value -= total
        slope -= rise
        curvature += rise * steep
        rows[r, OF_ENTRY] = 0.0
        if entry[r] + x > UNWORN:
            total, rise, steep = total_rise_slope(law, entry[r] + x)
            rows[r, OF_ENTRY] = rise
            value += total
            slope += rise
            curvature -= rise * steep
    for e in range(first_end, last_end):
        ends[e, OF_EXACT], ends[e, OF_AT], ends[e, OF_END], ends[e, OF_ROWS_LAST], ends[e, OF_SHARE] = 0.0, 0.0, 0.0, 0.0, 0.0
        perhaps = ended[e, PERHAPS] > 0.0
        sure = share if perhaps else 1.0
        if ended[e, INTERVAL] > 0.0:
            r = int(ended[e, ROW])
            total, rise, _ = total_rise_slope(law, end[e] + x)
            missed, through = missed_and_through(max(total - rows[r, TOTAL_LAST], LEAST_RISE))
            likelihood = max(sure * missed + (1.0 - sure) * through, LEAST)
            by_rise = (2.0 * sure - 1.0) * through / likelihood
            ends[e, OF_END], ends[e, OF_ROWS_LAST] = by_rise * rise, by_rise * rows[r, OF_LAST]
            value += log(likelihood)
            slope += ends[e, OF_END] + ends[e, OF_ROWS_LAST]
            if perhaps:
                ends[e, OF_SHARE] = (missed - through) / likelihood
            continue
        log_rise, steep = log_rise_and_slope(law, at[e] + x)
        if perhaps:
            hazard = exp(min(exact[e] + log_rise, 700.0))
            likelihood = max(sure * hazard + (1.0 - sure), LEAST)
            worn = sure * hazard / likelihood
            value += log(likelihood)
            ends[e, OF_SHARE] = (hazard - 1.0) / likelihood
        else:
            worn = 1.0
            value += exact[e] + log_rise
            curvature += bend(law, exp(min(log_rise, 700.0)), steep)
        ends[e, OF_EXACT], ends[e, OF_AT] = worn, worn * steep
        slope += worn * steep
    return value, slope, curvature


@register_jitable
def find_centre(
    law: int, s: float, share: float, levels: tuple[Array, Array, Array, Array, Array], ended: Array, rows: Array, ends: Array,
    first_row: int, last_row: int, first_end: int, last_end: int,
) -> tuple[float, float]:  # fmt: skip
    """u at which the integrand is highest, nearly, and the even step with which it is summed."""
    u, bound = 0.0, FURTHEST / max(abs(s), 1e-3)
    step = 1.0
    for _ in range(TURNS):
        _, slope, curvature = at_node(law, s * u, share, levels, ended, rows, ends, first_row, last_row, first_end, last_end)
        bent = 1.0 + s * s * max(curvature, 0.0)
        move = (s * slope - u) / bent
        step = min(STEP / sqrt(bent), WIDEST / max(abs(s), 1e-3))
        if not abs(move) >= CLOSE * step:
            break
        u += min(max(move, -bound), bound)
    return u, step


def row_marginals(
    entry: Array, last: Array, exact: Array, at: Array, end: Array, share: Array, spread: Array, law: Array, candidate: Array, row: Array,
    ended: Array,
) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array]:  # fmt: skip
    """Log-likelihood of each candidate, its tool's effect integrated out, and its derivatives.

    Parameters
    ----------
    entry, last : (row,)
        Levels at the entry and where the row was last known to be good, without a tool effect.
    exact, at, end : (ended,)
        Log hazard at the end but for `log_rise` of the law there; the level there; and the level at the end of an interval.
    share, spread, law : (1,)
        Of renewals of unstated cause, those by wear; k sigma, of either sign; place in `law.LAWS`.
    candidate, row, ended
        Tables of `ModelData`.

    Returns
    -------
    value : (candidate,)
    of_entry, of_last : (row,)
        Derivatives of the row's candidate.
    of_exact, of_at, of_end : (ended,)
    of_share, of_spread : (candidate,)
    """
    n, s, pi_wear, kind = len(candidate), spread[0], share[0], int(law[0])
    value, of_share, of_spread = np.zeros(n), np.zeros(n), np.zeros(n)
    of_rows, of_ends = np.zeros((len(row), 2)), np.zeros((len(ended), 3))
    rows, ends = np.zeros((len(row), 3)), np.zeros((len(ended), 5))
    levels = (entry, last, exact, at, end)
    low, begin = 0, 0
    for c in range(n):
        high, stop = end_of_candidate(c, row, ended, low, begin)
        if high == low:
            continue  # nothing is known of it
        centre, step = find_centre(kind, s, pi_wear, levels, ended, rows, ends, low, high, begin, stop)
        mass, height, top = 0.0, 0.0, 0.0
        stride, u = step, centre
        for _ in range(2):
            for _ in range(MOST_NODES):
                given, slope, _ = at_node(kind, s * u, pi_wear, levels, ended, rows, ends, low, high, begin, stop)
                here = given - 0.5 * u * u
                if mass == 0.0:
                    height, top = here, here
                if not here >= top - NEGLIGIBLE:
                    break
                top = max(top, here)
                weight = exp(min(here - height, 700.0))
                mass += weight
                of_spread[c] += weight * u * slope
                for r in range(low, high):
                    of_rows[r, 0] += weight * rows[r, OF_ENTRY]
                    of_rows[r, 1] += weight * rows[r, OF_LAST]
                for e in range(begin, stop):
                    of_rows[int(ended[e, ROW]), 1] += weight * ends[e, OF_ROWS_LAST]
                    of_ends[e, 0] += weight * ends[e, OF_EXACT]
                    of_ends[e, 1] += weight * ends[e, OF_AT]
                    of_ends[e, 2] += weight * ends[e, OF_END]
                    of_share[c] += weight * ends[e, OF_SHARE]
                u += stride
            stride = -step  # and to the left, where the centre counts no second time
            u = centre + stride
        if 0.0 < mass < np.inf:
            value[c] = height + log(mass * step / sqrt(2.0 * pi))
            of_rows[low:high] /= mass
            of_ends[begin:stop] /= mass
            of_share[c] /= mass
            of_spread[c] /= mass
        else:  # hazards that are no numbers
            value[c] = -np.inf
            of_rows[low:high] = 0.0
            of_ends[begin:stop] = 0.0
            of_share[c], of_spread[c] = 0.0, 0.0
        low, begin = high, stop
    return (
        value,
        of_rows[:, 0].copy(),
        of_rows[:, 1].copy(),
        of_ends[:, 0].copy(),
        of_ends[:, 1].copy(),
        of_ends[:, 2].copy(),
        of_share,
        of_spread,
    )


def row_grids(
    entry: Array, last: Array, exact: Array, at: Array, end: Array, share: Array, spread: Array, law: int, candidate: Array, row: Array,
    ended: Array, nodes: int,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """The integrand on even nodes of u that hold all but next to no mass, of many draws at once.

    Arguments as for `row_marginals` with a leading axis of draws; `share` and `spread` (draw,), `spread` >= 0.

    Returns
    -------
    start, step : (draw, candidate)
    log_density : (draw, candidate, node)
    """
    draws, n = len(spread), len(candidate)
    start, width, density = np.zeros((draws, n)), np.ones((draws, n)), np.zeros((draws, n, nodes))
    rows, ends = np.zeros((len(row), 3)), np.zeros((len(ended), 5))
    for draw in range(draws):
        levels = (entry[draw], last[draw], exact[draw], at[draw], end[draw])
        s, pi_wear = spread[draw], share[draw]
        low, begin = 0, 0
        for c in range(n):
            high, stop = end_of_candidate(c, row, ended, low, begin)
            centre, step = find_centre(law, s, pi_wear, levels, ended, rows, ends, low, high, begin, stop)
            top = at_node(law, s * centre, pi_wear, levels, ended, rows, ends, low, high, begin, stop)[0] - 0.5 * centre * centre
            edges = (centre, centre)
            for side in (-1.0, 1.0):
                u = centre
                for _ in range(MOST_NODES):
                    u += 0.5 * side * step
                    here = at_node(law, s * u, pi_wear, levels, ended, rows, ends, low, high, begin, stop)[0] - 0.5 * u * u
                    top = max(top, here)
                    if not here >= top - NEGLIGIBLE:
                        break
                edges = (u, edges[1]) if side < 0.0 else (edges[0], u)
            start[draw, c], width[draw, c] = edges[0], (edges[1] - edges[0]) / (nodes - 1)
            for k in range(nodes):
                u = edges[0] + width[draw, c] * k
                given = at_node(law, s * u, pi_wear, levels, ended, rows, ends, low, high, begin, stop)[0]
                density[draw, c, k] = given - 0.5 * u * u - 0.5 * log(2.0 * pi)
            low, begin = high, stop
    return start, width, density
