"""Law of propagation of uncertainty, shapes of Type B estimates, effective degrees of freedom (JCGM
100:2008).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.student import t_quantile

FloatArray = NDArray[np.float64]
Model = Callable[[FloatArray], "float | FloatArray"]


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a rectangular distribution of this half width: a/sqrt(3). JCGM 100, 4.3.7."""
    return half_width / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Standard uncertainty of a triangular distribution of this half width: a/sqrt(6). JCGM 100, 4.3.9."""
    return half_width / math.sqrt(6.0)


def arcsine(half_width: float) -> float:
    """Standard uncertainty of a quantity that swings as a sine of this amplitude: a/sqrt(2). JCGM 100,
    H.1.3.4.
    """
    return half_width / math.sqrt(2.0)


def digital_step(step: float) -> float:
    """Standard uncertainty from a display that moves in steps: d/sqrt(12). JCGM 100, F.2.2.1."""
    return step / math.sqrt(12.0)


def from_half_width_95(half_width: float) -> float:
    """Standard uncertainty behind a 95 % half width, normal: U/1.959964. JCGM 100, 4.3.4."""
    return half_width / 1.959963984540054


def type_b_freedom(relative_doubt: float) -> float:
    """Degrees of freedom of a Type B standard uncertainty that is itself doubtful by this fraction. JCGM 100,
    eq. G.3.
    """
    return math.inf if relative_doubt == 0.0 else 0.5 / relative_doubt**2


def covariance_matrix(uncertainties: Sequence[float], correlation: FloatArray | None = None) -> FloatArray:
    """Covariance matrix from standard uncertainties and a correlation matrix (None: independent)."""
    u = np.asarray(uncertainties, dtype=np.float64)
    if correlation is None:
        return np.diag(u**2)
    return np.asarray(np.outer(u, u) * np.asarray(correlation, dtype=np.float64))


def jacobian(model: Model, values: FloatArray, steps: FloatArray) -> FloatArray:
    """Central-difference sensitivities of `model` at `values`, shape (outputs, inputs). JCGM 100, 5.1.3 note
    2.
    """
    columns = []
    for i, step in enumerate(steps):
        if step == 0.0:
            columns.append(np.zeros_like(np.atleast_1d(model(values))))
            continue
        shift = np.zeros_like(values)
        shift[i] = step
        rise = np.atleast_1d(model(values + shift)) - np.atleast_1d(model(values - shift))
        columns.append(rise / (2.0 * step))
    return np.asarray(np.stack(columns, axis=1))


def propagate(model: Model, values: Sequence[float], covariance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Outputs of `model` and their covariance matrix, to first order, correlations included.

    V_y = J V_x J^T, JCGM 100, eq. 13 and JCGM 102, 6.2.1. The step of the numeric sensitivities is a
    hundredth of each input's standard uncertainty: small against the doubt, large against rounding.
    """
    x = np.asarray(values, dtype=np.float64)
    v = np.asarray(covariance, dtype=np.float64)
    sensitivities = jacobian(model, x, 0.01 * np.sqrt(np.diag(v)))
    outputs = np.atleast_1d(np.asarray(model(x), dtype=np.float64))
    return outputs, np.asarray(sensitivities @ v @ sensitivities.T)


def correlation_of(covariance: FloatArray) -> FloatArray:
    """Correlation matrix of a covariance matrix."""
    u = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(u, u))


def welch_satterthwaite(contributions: Sequence[float], freedom: Sequence[float]) -> float:
    """Effective degrees of freedom of a combined standard uncertainty; contributions independent, not
    rounded.

    nu = u_c^4 / sum(u_i^4 / nu_i); infinite where every contribution's is. JCGM 100, eq. G.2b.
    """
    combined = math.hypot(*contributions)
    if combined == 0.0:
        return math.inf
    spent = math.fsum((u / combined) ** 4 / nu for u, nu in zip(contributions, freedom, strict=True))
    return math.inf if spent == 0.0 else 1.0 / spent


def expanded_uncertainty(standard_uncertainty: float, freedom: float, coverage: float = 0.95) -> float:
    """Half width of the coverage interval: t_p(nu) u_c with nu truncated down. JCGM 100, G.4.1."""
    whole = math.floor(freedom) if math.isfinite(freedom) else freedom
    return t_quantile(0.5 * (1.0 + coverage), max(whole, 1)) * standard_uncertainty
