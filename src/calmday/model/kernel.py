"""Indicated energy of draws over a drive: the hot loop, without a compiler.

For draw d and sample i, with wheel power W and engine losses L (both coefficient x basis):
  S = max(W / eta, W eta)            shaft power: the driveline takes its share either way
  S = min(S, l cap)                  not far beyond full load
  Y = S + h max(S - k cap, 0)        what it takes: more than the straight line at high load
  X = max(g Y + L, floor)            indicated power: fuel shut off (or idling flow) below
  energy = sum_i weight_i X          for each column of weights
X is linear in the coefficients wherever a sample pulls for every draw, or has the fuel shut off for every draw. Those
samples are summed first and cost nothing per draw; of the others, only what can differ is worked out one by one. A
sample counts as settled when its mean over the draws is `MARGIN` standard deviations inside its regime. As a share of
full load the bends of a pulling sample are the same for every draw, which makes those near a bend cheap.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import HIGH_LOAD, HIGH_LOAD_SLOPE, MOST_LOAD, Basis, Coefficients

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

MARGIN = 5.0
LOAD_MARGIN = 6.0
"""The same above the mean of load: the wind is squared and full load divides, so it reaches farther up than down."""
_CHUNK_ELEMENTS = 40_000
_BLOCK_SAMPLES = 500


class _Regimes(msgspec.Struct, frozen=True):
    """What is sure of each sample, (n,).

    `pulling` and `shut_off` are settled but for the knee. Of the rest, `burning` stay above the floor though perhaps
    overrunning. `level` may be below the knee of high load and `bent` above it; `beyond` may ask for more than the most
    there is.
    """

    pulling: BoolArray
    shut_off: BoolArray
    burning: BoolArray
    other: BoolArray
    level: BoolArray
    bent: BoolArray
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


def _load(wheel: _Terms, basis: Basis, c: Coefficients) -> _Terms:
    """Shaft power of pulling samples as a share of full load."""
    return _Terms(wheel.coefficients / (c.efficiency * c.cap)[:, None], wheel.basis / basis.cap_w)


def _regimes(wheel_terms: _Terms, loss_terms: _Terms, load_terms: _Terms, basis: Basis, c: Coefficients) -> _Regimes:
    wheel, wheel_sd = _band(wheel_terms.coefficients, wheel_terms.basis)
    loss, loss_sd = _band(loss_terms.coefficients, loss_terms.basis)
    low, high = wheel - MARGIN * wheel_sd, wheel + MARGIN * wheel_sd
    loss_low, loss_high = loss - MARGIN * loss_sd, loss + MARGIN * loss_sd
    floor_high, floor_low = c.floor_w.max() * basis.running, c.floor_w.min() * basis.running
    load, load_sd = _band(load_terms.coefficients, load_terms.basis)
    weakest = np.where(low >= 0, low * c.gain.min() / c.efficiency.max(), low * (c.gain * c.efficiency).max())
    burning = weakest + loss_low >= floor_high
    forward = (low >= 0) & burning
    braked = high * c.gain.min() * c.efficiency.min() + loss_high
    shut_off = (high < 0) & (braked <= floor_low)
    return _Regimes(
        pulling=forward,
        shut_off=shut_off,
        burning=burning & ~forward & ~shut_off,
        other=~burning & ~shut_off,
        level=load - MARGIN * load_sd < HIGH_LOAD,
        bent=load + LOAD_MARGIN * load_sd > HIGH_LOAD,
        beyond=load + LOAD_MARGIN * load_sd > MOST_LOAD,
    )


def _blocks(chosen: BoolArray) -> Iterator[IntArray]:
    """The indices of the chosen samples, so many at a time that a chunk of draws stays in cache."""
    index = np.flatnonzero(chosen)
    for start in range(0, index.size, _BLOCK_SAMPLES):
        yield index[start : start + _BLOCK_SAMPLES]


def _chunks(draws: int, samples: int) -> Iterator[slice]:
    rows = max(1, min(draws, _CHUNK_ELEMENTS // samples))
    for start in range(0, draws, rows):
        yield slice(start, min(start + rows, draws))


def _above_knee(load: _Terms) -> _Terms:
    """Load beyond the knee of high load: one more term of the product."""
    draws, samples = len(load.coefficients), load.basis.shape[1]
    knee = np.full((draws, 1), HIGH_LOAD)
    return _Terms(np.hstack([load.coefficients, knee]), np.vstack([load.basis, np.full((1, samples), -1.0)]))


def _pulling(beyond_knee: _Terms, index: IntArray, chosen: FloatArray, *, stopped: bool) -> FloatArray:
    """What pulling samples `index` take as a share of full load, summed with `chosen`, (m, q).

    Up to `MOST_LOAD` only what the knee adds; for samples that may ask for more, all of it, `stopped` there.
    """
    terms, below = beyond_knee.coefficients, beyond_knee.basis.take(index, axis=1)
    energy = np.zeros((len(terms), chosen.shape[1]))
    if stopped:
        energy += HIGH_LOAD * chosen.sum(axis=0)
    steeper = HIGH_LOAD_SLOPE * chosen
    for part in _chunks(len(terms), index.size):
        above = terms[part] @ below
        if stopped:
            np.minimum(above, MOST_LOAD - HIGH_LOAD, out=above)
            energy[part] += above @ chosen
        energy[part] += np.maximum(above, 0.0, out=above) @ steeper
    return energy


def _one_by_one(
    wheel: _Terms,
    loss: _Terms,
    basis: Basis,
    c: Coefficients,
    index: IntArray,
    weights: FloatArray,
    *,
    bent: bool,
    floored: bool,
) -> FloatArray:
    """The formula over the samples `index`, in chunks of draws that stay in cache; (m, q), losses only if floored.

    With W' = g W / eta the gained shaft power is max(W', eta^2 W'), so one product and one factor serve both signs; at
    high load, which only samples perhaps `bent` can reach, it is the larger of that and W' + h (W' - k g cap).
    """
    gained = wheel.coefficients * (c.gain / c.efficiency)[:, None]
    back = (c.efficiency**2)[:, None]
    full = (c.gain * c.cap)[:, None]
    knee = HIGH_LOAD * full
    most = (MOST_LOAD * (1 + HIGH_LOAD_SLOPE) - HIGH_LOAD * HIGH_LOAD_SLOPE) * full
    wheel_basis, loss_basis = wheel.basis.take(index, axis=1), loss.basis.take(index, axis=1)
    cap, running, chosen = basis.cap_w[index], basis.running[index], weights[index]
    has_floor = bool(c.floor_w.any())
    energy = np.empty((len(gained), weights.shape[1]))
    for part in _chunks(len(gained), index.size):
        x = gained[part] @ wheel_basis
        y = back[part] * x
        np.maximum(x, y, out=x)
        if bent:
            np.multiply(knee[part], cap, out=y)
            np.subtract(x, y, out=y)
            y *= HIGH_LOAD_SLOPE
            y += x
            np.maximum(x, y, out=x)
            np.multiply(most[part], cap, out=y)
            np.minimum(x, y, out=x)
        if floored:
            np.matmul(loss.coefficients[part], loss_basis, out=y)
            x += y
            np.maximum(x, np.multiply(c.floor_w[part, None], running, out=y) if has_floor else 0.0, out=x)
        np.matmul(x, chosen, out=energy[part])
    return energy


def indicated_energy_j(basis: Basis, c: Coefficients, weights: FloatArray) -> FloatArray:
    """Indicated energy of every draw summed with each column of `weights` (n, q) in seconds; shape (m, q), joule."""
    wheel, loss = _present(c.wheel, basis.wheel), _present(c.loss, basis.loss)
    load = _load(wheel, basis, c)
    r = _regimes(wheel, loss, load, basis, c)
    straight = r.pulling & ~r.beyond
    full_load = basis.cap_w[:, None] * weights
    above = HIGH_LOAD_SLOPE * full_load * (straight & ~r.level)[:, None]
    shares = load.coefficients @ (load.basis @ (full_load * straight[:, None] + above)) - HIGH_LOAD * above.sum(axis=0)
    beyond_knee = _above_knee(load)
    for samples, stopped in ((straight & r.bent & r.level, False), (r.pulling & r.beyond, True)):
        for block in _blocks(samples):
            shares += _pulling(beyond_knee, block, full_load[block], stopped=stopped)
    energy = (c.gain * c.cap)[:, None] * shares
    energy += loss.coefficients @ ((loss.basis * (r.pulling | r.burning)) @ weights)
    energy += c.floor_w[:, None] * (basis.running[r.shut_off] @ weights[r.shut_off])
    for samples, floored in ((r.burning, False), (r.other, True)):
        for block in _blocks(samples):
            bent = bool(r.bent[block].any())
            energy += _one_by_one(wheel, loss, basis, c, block, weights, bent=bent, floored=floored)
    return np.asarray(energy)


def fuel_energy_factor(basis: Basis, c: Coefficients, step_s: FloatArray) -> FloatArray:
    """Enrichment-weighted indicated energy of the whole drive per draw, shape (m,), joule.

    Fuel energy is this over indicated efficiency. A cold petrol engine takes 1 + E exp(-t/tau) times the fuel.
    """
    weights = np.stack([step_s, step_s * basis.decay], axis=1)
    sums = indicated_energy_j(basis, c, weights)
    return np.asarray(sums[:, 0] + c.enrichment * sums[:, 1])
