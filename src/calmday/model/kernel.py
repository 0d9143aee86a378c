"""Indicated energy of draws over a drive: the hot loop, without a compiler.

For draw d and sample i, with wheel power W and engine losses L (both coefficient x basis):
  S = max(W / eta, W eta)            shaft power: the driveline takes its share either way
  S = min(S, l cap)                  not far beyond full load
  Y = S + h max(S - k cap, 0)        what it takes: more than the straight line at high load
  X = max(g Y + L, floor)            indicated power: fuel shut off (or idling flow) below
  energy = sum_i weight_i X          for each column of weights
X is linear in the coefficients wherever a sample pulls for every draw, or has the fuel shut off for every draw. Those
samples are summed first and cost nothing per draw; of the others, only what can differ is worked out one by one. A
sample counts as settled when its mean over the draws is `MARGIN` standard deviations inside its regime.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import HIGH_LOAD, HIGH_LOAD_SLOPE, MOST_LOAD, Basis, Coefficients

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

MARGIN = 5.0
KNEE_MARGIN = 3.0
"""The same for the knee at high load: it is a bend of three tenths, and what lies beyond it by chance is little."""
_CHUNK_ELEMENTS = 80_000
_BLOCK_SAMPLES = 2000


class _Regimes(msgspec.Struct, frozen=True):
    """What is sure of each sample, (n,).

    `pulling` and `shut_off` are settled. Of the rest, `forward` pull though perhaps at high load, and `burning` stay
    above the floor though perhaps overrunning. `high`: whether any sample may be at high load; `beyond` those that may
    ask for more than the most there is.
    """

    pulling: BoolArray
    shut_off: BoolArray
    forward: BoolArray
    burning: BoolArray
    other: BoolArray
    high: bool
    beyond: BoolArray


class _Terms(msgspec.Struct, frozen=True):
    """Coefficients (m, k) with their basis (k, n), without the terms that are nothing for every draw."""

    coefficients: FloatArray
    basis: FloatArray


def _present(coefficients: FloatArray, basis: FloatArray) -> _Terms:
    present = coefficients.any(axis=0)
    if present.all():
        return _Terms(coefficients, basis)
    return _Terms(np.ascontiguousarray(coefficients[:, present]), basis[present])


def _band(coefficients: FloatArray, basis: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation over the draws of coefficients @ basis, each (n,)."""
    mean = coefficients.mean(axis=0)
    deviation = coefficients - mean
    covariance = deviation.T @ deviation / max(len(coefficients) - 1, 1)
    variance = np.einsum("jn,jn->n", basis, covariance @ basis)
    return mean @ basis, np.sqrt(np.maximum(variance, 0.0))


def _regimes(wheel_terms: _Terms, loss_terms: _Terms, basis: Basis, c: Coefficients) -> _Regimes:
    wheel, wheel_sd = _band(wheel_terms.coefficients, wheel_terms.basis)
    loss, loss_sd = _band(loss_terms.coefficients, loss_terms.basis)
    low, high = wheel - MARGIN * wheel_sd, wheel + MARGIN * wheel_sd
    loss_low, loss_high = loss - MARGIN * loss_sd, loss + MARGIN * loss_sd
    floor_high, floor_low = c.floor_w.max() * basis.running, c.floor_w.min() * basis.running
    knee = HIGH_LOAD * basis.cap_w * c.cap.min()
    bent = (wheel + KNEE_MARGIN * wheel_sd) / c.efficiency.min() > knee
    weakest = np.where(low >= 0, low * c.gain.min() / c.efficiency.max(), low * (c.gain * c.efficiency).max())
    burning = weakest + loss_low >= floor_high
    forward = (low >= 0) & burning
    braked = high * c.gain.min() * c.efficiency.min() + loss_high
    shut_off = (high < 0) & (braked <= floor_low)
    return _Regimes(
        pulling=forward & ~bent,
        shut_off=shut_off,
        forward=forward & bent,
        burning=burning & ~forward & ~shut_off,
        other=~burning & ~shut_off,
        high=bool(bent.any()),
        beyond=(wheel + 2 * MARGIN * wheel_sd) / c.efficiency.min() > MOST_LOAD / HIGH_LOAD * knee,
    )


class _Steps(msgspec.Struct, frozen=True):
    """Which steps of the formula a group of samples needs."""

    signed: bool
    high: bool
    floored: bool
    stopped: bool = False


def _one_by_one(
    wheel: _Terms, loss: _Terms, basis: Basis, c: Coefficients, index: IntArray, steps: _Steps, weights: FloatArray
) -> FloatArray:
    """The formula over the samples `index`, in chunks of draws that stay in cache; (m, q), losses only if floored.

    With W' = g W / eta the gained shaft power is max(W', eta^2 W'), so one product and one factor serve both signs; at
    high load it is the larger of that and W' + h (W' - k g cap).
    """
    gained = wheel.coefficients * (c.gain / c.efficiency)[:, None]
    back = (c.efficiency**2)[:, None]
    full = (c.gain * c.cap)[:, None]
    knee = HIGH_LOAD * full
    most = (MOST_LOAD * (1 + HIGH_LOAD_SLOPE) - HIGH_LOAD * HIGH_LOAD_SLOPE) * full
    wheel_basis, loss_basis = wheel.basis.take(index, axis=1), loss.basis.take(index, axis=1)
    cap, running, chosen = basis.cap_w[index], basis.running[index], weights[index]
    has_floor = bool(c.floor_w.any())
    rows = max(1, min(len(gained), _CHUNK_ELEMENTS // index.size))
    energy = np.empty((len(gained), weights.shape[1]))
    shaft, other = np.empty((rows, index.size)), np.empty((rows, index.size))
    for start in range(0, len(gained), rows):
        part = slice(start, min(start + rows, len(gained)))
        x, y = shaft[: part.stop - start], other[: part.stop - start]
        np.matmul(gained[part], wheel_basis, out=x)
        if steps.signed:
            np.multiply(x, back[part], out=y)
            np.maximum(x, y, out=x)
        if steps.high:
            np.multiply(knee[part], cap, out=y)
            np.subtract(x, y, out=y)
            y *= HIGH_LOAD_SLOPE
            y += x
            np.maximum(x, y, out=x)
        if steps.stopped:
            np.multiply(most[part], cap, out=y)
            np.minimum(x, y, out=x)
        if steps.floored:
            np.matmul(loss.coefficients[part], loss_basis, out=y)
            x += y
            np.maximum(x, np.multiply(c.floor_w[part, None], running, out=y) if has_floor else 0.0, out=x)
        np.matmul(x, chosen, out=energy[part])
    return energy


def indicated_energy_j(basis: Basis, c: Coefficients, weights: FloatArray) -> FloatArray:
    """Indicated energy of every draw summed with each column of `weights` (n, q) in seconds; shape (m, q), joule."""
    wheel, loss = _present(c.wheel, basis.wheel), _present(c.loss, basis.loss)
    regimes = _regimes(wheel, loss, basis, c)
    burning = regimes.pulling | regimes.forward | regimes.burning
    energy = (c.gain / c.efficiency)[:, None] * (wheel.coefficients @ ((wheel.basis * regimes.pulling) @ weights))
    energy += loss.coefficients @ ((loss.basis * burning) @ weights)
    energy += c.floor_w[:, None] * (basis.running[regimes.shut_off] @ weights[regimes.shut_off])
    for samples, steps in (
        (regimes.forward, _Steps(signed=False, high=True, floored=False)),
        (regimes.burning, _Steps(signed=True, high=regimes.high, floored=False)),
        (regimes.other, _Steps(signed=True, high=regimes.high, floored=True)),
    ):
        for stopped in (False, True):
            index = np.flatnonzero(samples & (regimes.beyond == stopped))
            some = msgspec.structs.replace(steps, stopped=stopped)
            for start in range(0, index.size, _BLOCK_SAMPLES):
                block = index[start : start + _BLOCK_SAMPLES]
                energy += _one_by_one(wheel, loss, basis, c, block, some, weights)
    return np.asarray(energy)


def fuel_energy_factor(basis: Basis, c: Coefficients, step_s: FloatArray) -> FloatArray:
    """Enrichment-weighted indicated energy of the whole drive per draw, shape (m,), joule.

    Fuel energy is this over indicated efficiency. A cold petrol engine takes 1 + E exp(-t/tau) times the fuel.
    """
    weights = np.stack([step_s, step_s * basis.decay], axis=1)
    sums = indicated_energy_j(basis, c, weights)
    return np.asarray(sums[:, 0] + c.enrichment * sums[:, 1])
