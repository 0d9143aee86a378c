"""Indicated energy of draws over a drive: the hot loop, without a compiler.

For draw d and sample i, with wheel power W and engine losses L (both coefficient x basis):
  S = max(W / eta, W eta)            shaft power: the driveline takes its share either way
  X = max(g min(S, cap) + L, floor)  indicated power: full load above, fuel shut off (or idling flow) below
  energy = sum_i weight_i X          for each column of weights
X is linear in the coefficients wherever a sample pulls for every draw, or has the fuel shut off for every draw. Those
samples are summed first and cost nothing per draw; only samples whose regime differs between draws are worked out one
by
one. A sample counts as settled when its mean over the draws is `MARGIN` standard deviations inside its regime.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import Basis, Coefficients

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

MARGIN = 5.0
_CHUNK_ELEMENTS = 40_000


class _Regimes(msgspec.Struct, frozen=True):
    pulling: BoolArray
    shut_off: BoolArray
    mixed: BoolArray


def _band(coefficients: FloatArray, basis: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation over the draws of coefficients @ basis, each (n,)."""
    mean = coefficients.mean(axis=0)
    deviation = coefficients - mean
    covariance = deviation.T @ deviation / max(len(coefficients) - 1, 1)
    variance = np.einsum("jn,jn->n", basis, covariance @ basis)
    return mean @ basis, np.sqrt(np.maximum(variance, 0.0))


def _regimes(basis: Basis, c: Coefficients) -> _Regimes:
    wheel, wheel_sd = _band(c.wheel, basis.wheel)
    loss, loss_sd = _band(c.loss, basis.loss)
    low, high = wheel - MARGIN * wheel_sd, wheel + MARGIN * wheel_sd
    loss_low, loss_high = loss - MARGIN * loss_sd, loss + MARGIN * loss_sd
    floor_high, floor_low = c.floor_w.max() * basis.running, c.floor_w.min() * basis.running
    strongest = high / c.efficiency.min()
    weakest = low * c.gain.min() / c.efficiency.max()
    pulling = (low >= 0) & (strongest <= basis.cap_w * c.cap.min()) & (weakest + loss_low >= floor_high)
    braked = high * c.gain.min() * c.efficiency.min() + loss_high
    shut_off = (high < 0) & (braked <= floor_low)
    return _Regimes(pulling, shut_off, ~(pulling | shut_off))


def _mixed(basis: Basis, c: Coefficients, samples: BoolArray, weights: FloatArray) -> FloatArray:
    """The full formula over the given samples, in chunks of draws that stay in cache; shape (m, q).

    With W' = g W / eta the gained shaft power is max(W', eta^2 W'), so one product and one factor serve both signs.
    """
    wheel = np.ascontiguousarray(basis.wheel[:, samples])
    loss = np.ascontiguousarray(basis.loss[:, samples])
    cap, running, chosen = basis.cap_w[samples], basis.running[samples], weights[samples]
    gained = c.wheel * (c.gain / c.efficiency)[:, None]
    back = (c.efficiency**2)[:, None]
    limit = (c.gain * c.cap)[:, None]
    limited = bool(np.any(_highest(gained, wheel) > limit.min() * cap))
    rows = max(1, min(len(gained), _CHUNK_ELEMENTS // max(1, wheel.shape[1])))
    energy = np.empty((len(gained), weights.shape[1]))
    shaft, other = np.empty((rows, wheel.shape[1])), np.empty((rows, wheel.shape[1]))
    for start in range(0, len(gained), rows):
        part = slice(start, min(start + rows, len(gained)))
        x, y = shaft[: part.stop - start], other[: part.stop - start]
        np.matmul(gained[part], wheel, out=x)
        np.multiply(x, back[part], out=y)
        np.maximum(x, y, out=x)
        if limited:
            np.multiply(limit[part], cap, out=y)
            np.minimum(x, y, out=x)
        np.matmul(c.loss[part], loss, out=y)
        x += y
        np.multiply(c.floor_w[part, None], running, out=y)
        np.maximum(x, y, out=x)
        np.matmul(x, chosen, out=energy[part])
    return energy


def _highest(coefficients: FloatArray, basis: FloatArray) -> FloatArray:
    """A value that coefficients @ basis passes for practically no draw, per sample."""
    mean, deviation = _band(coefficients, basis)
    return np.asarray(mean + MARGIN * deviation)


def indicated_energy_j(basis: Basis, c: Coefficients, weights: FloatArray) -> FloatArray:
    """Indicated energy of every draw summed with each column of `weights` (n, q) in seconds; shape (m, q), joule."""
    regimes = _regimes(basis, c)
    pulling, shut_off = regimes.pulling, regimes.shut_off
    wheel_sum = basis.wheel[:, pulling] @ weights[pulling]
    loss_sum = basis.loss[:, pulling] @ weights[pulling]
    energy = (c.wheel * (c.gain / c.efficiency)[:, None]) @ wheel_sum + c.loss @ loss_sum
    energy += c.floor_w[:, None] * (basis.running[shut_off] @ weights[shut_off])
    if regimes.mixed.any():
        energy += _mixed(basis, c, regimes.mixed, weights)
    return np.asarray(energy)


def fuel_energy_factor(basis: Basis, c: Coefficients, step_s: FloatArray) -> FloatArray:
    """Enrichment-weighted indicated energy of the whole drive per draw, shape (m,), joule.

    Fuel energy is this over indicated efficiency. A cold petrol engine takes 1 + E exp(-t/tau) times the fuel.
    """
    weights = np.stack([step_s, step_s * basis.decay], axis=1)
    sums = indicated_energy_j(basis, c, weights)
    return np.asarray(sums[:, 0] + c.enrichment * sums[:, 1])
