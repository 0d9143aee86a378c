"""One vehicle given any set of tests: shared parameters, each test's own nuisances, states of the build sheet.

Every test ("piece") says how far what was measured lies from what the vehicle's parameters and its own nuisances
predict, in units of its own spread. Gauss-Newton over all scores together, then importance weights and moves
(`model.posterior`). A piece that all others contradict is widened until it is no longer odd, and named: it must not
drag the rest along in silence (in the spirit of Birge 1932, Phys. Rev. 40, 207, one piece at a time).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.parameters import Parameter, ParameterSet
from calmday.model.posterior import Peak, Posterior, drawn, peak

FloatArray = NDArray[np.float64]
PieceResiduals = Callable[[FloatArray, FloatArray], FloatArray]
"""Scores of the shared parameters (m, len(SHARED)) and of the piece's own (m, q) -> whitened residuals (m, n)."""

SHARED: tuple[str, ...] = (
    *("test_mass", "drag_area", "yaw_growth", "rolling_resistance", "rolling_growth", "rolling_temperature"),
    *(
        "driveline_efficiency",
        "driveline_drag",
        "driveline_thickening",
        "indicated_efficiency",
        "friction_mep",
        "friction_slope",
    ),
    *("pumping_mep", "accessory_power", "gearing_scale", "full_load_scale"),
)
"""Parameters that belong to the vehicle and not to a day: what one test says of them, all others learn.

When gears are changed is none of them: the same driver is in a low gear for most of one run and never in it on
another, as road, speed and wind have it, and no receiver sees which."""

EXACT = "indicated_efficiency"
"""Every test is exactly linear in the score of this one: the logarithm of fuel, or nothing at all."""
ODD_Z = 2.6
WIDENED_TO = 1.5
_BELIEVED_Z = 2.0
_INFORMATIVE = 1.0


class Piece(msgspec.Struct, frozen=True, kw_only=True):
    """One test. `own` its nuisances, `state` which state of the vehicle it was made with, 0 first."""

    label: str
    kind: str
    own: tuple[Parameter, ...]
    residuals: PieceResiduals
    state: int = 0


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """A piece against all others: `z` how far off it lies (standard deviations), `widened` by what factor its spread
    was stretched, 1 where it was left as it is."""

    label: str
    kind: str
    z: float
    widened: float


class Pooled(msgspec.Struct, frozen=True, kw_only=True):
    """All pieces together. `maps` (S, len(SHARED), L) from latent scores to the shared scores of each state;
    `ladder` mean and standard deviation of the last state's shared scores after 0, 1, 2... pieces (steps, k)."""

    posterior: Posterior
    maps: FloatArray
    judged: tuple[Judged, ...]
    ladder_mean: FloatArray
    ladder_sd: FloatArray

    def shared(self, state: int) -> FloatArray:
        """Posterior draws of the shared scores of one state, (m, len(SHARED))."""
        latent = self.maps.shape[2]
        return np.asarray(self.posterior.scores[:, :latent] @ self.maps[state].T)


def state_maps(kept: Sequence[dict[str, float]]) -> FloatArray:
    """Maps from latent scores to the shared scores of each state. `kept[i]` for the change from state i to i + 1: the
    correlation that a touched parameter keeps with what it was; parameters not named are as they were.

    A parameter keeps its prior spread in every state: new = r old + sqrt(1 - r^2) fresh.
    """
    size = len(SHARED)
    fresh = [(i, SHARED.index(key)) for i, change in enumerate(kept) for key in change if key in SHARED]
    maps = np.zeros((len(kept) + 1, size, size + len(fresh)))
    maps[0, :, :size] = np.eye(size)
    for i, change in enumerate(kept):
        maps[i + 1] = maps[i]
        for key, r in change.items():
            if key in SHARED:
                row = SHARED.index(key)
                column = size + fresh.index((i, row))
                maps[i + 1, row] = r * maps[i, row]
                maps[i + 1, row, column] = math.sqrt(max(1 - r * r, 0.0))
    return maps


DIRECT = frozenset({"weighbridge", "roll-out", "coastdown"})
"""Measurements that read figures of the build sheet off by themselves, far better than a sheet states them."""
ANSWERED = 0.8
"""Other tests speak of a figure where they leave less than this share of the variance that the sheet leaves it."""


class _Joint:
    """Residuals of all pieces over one vector of scores: latent ones of the vehicle, then each piece's own."""

    def __init__(self, pieces: Sequence[Piece], maps: FloatArray) -> None:
        self.pieces, self.maps = pieces, maps
        self.latent = maps.shape[2]
        sizes = [len(piece.own) for piece in pieces]
        starts = self.latent + np.cumsum([0, *sizes])
        self.columns = [slice(int(a), int(b)) for a, b in itertools.pairwise(starts)]
        self.size = int(starts[-1])
        self.widened = np.ones(len(pieces))

    def each(self, scores: FloatArray) -> list[FloatArray]:
        found = []
        for k, (piece, own) in enumerate(zip(self.pieces, self.columns, strict=True)):
            shared = scores[:, : self.latent] @ self.maps[piece.state].T
            found.append(piece.residuals(shared, scores[:, own]) / self.widened[k])
        return found

    def __call__(self, scores: FloatArray) -> FloatArray:
        return np.concatenate(self.each(scores), axis=1)

    def rows(self) -> list[slice]:
        """Which residuals belong to which piece."""
        sizes = [part.shape[1] for part in self.each(np.zeros((1, self.size)))]
        edges = np.cumsum([0, *sizes])
        return [slice(int(a), int(b)) for a, b in itertools.pairwise(edges)]


def pool(pieces: Sequence[Piece], kept: Sequence[dict[str, float]], draws: int, seed: int) -> Pooled:
    """Condition one vehicle on all pieces. Without pieces the prior comes back."""
    maps = state_maps(kept)
    if not pieces:
        return _prior(maps, draws, seed)
    joint = _Joint(pieces, maps)
    rows = joint.rows()
    top = peak(joint, joint.size)
    odd = first = _off(top, rows) * _answerable(top, joint, rows)
    for _ in range((len(pieces) + 1) // 2):
        worst = int(np.argmax(odd))
        if odd[worst] <= ODD_Z or (len(pieces) == 1):
            break
        both = np.flatnonzero(odd > ODD_Z) if len(pieces) == 2 else np.array([worst])
        joint.widened[both] *= odd[worst] / WIDENED_TO
        top = peak(joint, joint.size, top.mode)
        odd = _off(top, rows) * _answerable(top, joint, rows)
    posterior = drawn(joint, top, draws, seed, SHARED.index(EXACT))
    mean, sd = _ladder(top, rows, maps[-1])
    judged = tuple(
        Judged(label=piece.label, kind=piece.kind, z=float(z), widened=float(w))
        for piece, z, w in zip(pieces, first, joint.widened, strict=True)
    )
    return Pooled(posterior=posterior, maps=maps, judged=judged, ladder_mean=mean, ladder_sd=sd)


def _prior(maps: FloatArray, draws: int, seed: int) -> Pooled:
    size = maps.shape[2]

    def nothing(scores: FloatArray) -> FloatArray:
        return np.zeros((len(scores), 1))

    shared = maps.shape[1]
    return Pooled(
        posterior=drawn(nothing, peak(nothing, size), draws, seed), maps=maps, judged=(),
        ladder_mean=np.zeros((1, shared)), ladder_sd=np.ones((1, shared)),
    )  # fmt: skip


def _off(top: Peak, rows: Sequence[slice]) -> FloatArray:
    """How far each piece lies from what all others predict, in standard deviations, on the directions it informs.

    In the linear picture at the peak: without the piece, mode' = mode + A'^-1 J'r, its residuals there have covariance
    I + J A'^-1 J'. A chi-squared value of k directions is told as the normal quantile of the same probability
    (Wilson and Hilferty 1931).
    """
    precision = np.linalg.inv(top.covariance)
    found = []
    for part in rows:
        slope, residual = top.slope[part], top.residual[part]
        others = np.linalg.inv(precision - slope.T @ slope)
        apart = residual + slope @ (others @ (slope.T @ residual))
        values, vectors = np.linalg.eigh(slope @ others @ slope.T)
        count = max(1, int((values > _INFORMATIVE).sum()))
        along = vectors[:, -count:].T @ apart
        square = float(np.sum(along**2 / (1 + values[-count:])))
        root = (square / count) ** (1 / 3)
        found.append((root - (1 - 2 / (9 * count))) / math.sqrt(2 / (9 * count)) if count > 1 else math.sqrt(square))
    return np.array(found)


def _answerable(top: Peak, joint: _Joint, rows: Sequence[slice]) -> FloatArray:
    """Which pieces others may call odd: 0 for a direct measurement of something that the other tests know little more
    of than the build sheet does. Where it disagrees, the sheet is the likelier to be off."""
    precision = np.linalg.inv(top.covariance)
    latent = slice(0, joint.latent)
    found = []
    for piece, part in zip(joint.pieces, rows, strict=True):
        slope = top.slope[part]
        others = np.linalg.inv(precision - slope.T @ slope)[latent, latent]
        left = np.trace(slope[:, latent] @ others @ slope[:, latent].T)
        alone = piece.kind in DIRECT and left > ANSWERED * np.sum(slope[:, latent] ** 2)
        found.append(0.0 if alone else 1.0)
    return np.array(found)


def _ladder(top: Peak, rows: Sequence[slice], to_last: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and spread of the last state's shared scores after each piece, in the linear picture at the peak."""
    size = top.mode.size
    precision, pull = np.eye(size), np.zeros(size)
    latent = to_last.shape[1]
    means, sds = [np.zeros(len(to_last))], [np.ones(len(to_last))]
    for part in rows:
        slope = top.slope[part]
        precision = precision + slope.T @ slope
        pull = pull + slope.T @ (slope @ top.mode - top.residual[part])
        covariance = np.linalg.inv(precision)
        means.append(to_last @ (covariance @ pull)[:latent])
        sds.append(np.sqrt(np.diag(to_last @ covariance[:latent, :latent] @ to_last.T)))
    return np.array(means), np.array(sds)


class InformedSet(ParameterSet, frozen=True):
    """Parameters whose standard-normal columns carry what earlier tests taught: scores = mean + root u, u ~ N(0, I).

    `mean` (k,), `root` (k, k). A draw of u is used like a draw of the plain scores everywhere.
    """

    mean: FloatArray
    root: FloatArray

    def values(self, scores: FloatArray) -> dict[str, FloatArray]:
        """Values by key for columns u of shape (m, k)."""
        return ParameterSet(self.parameters).values(self.mean + scores @ self.root.T)


def trust_in(z: float) -> float:
    """How far to believe what other tests taught, where a test lies `z` standard deviations off it: 1 up to 2.

    Sooner than a test is called odd among many: here it is one against all, and the gain is small.
    """
    return 1.0 if abs(z) <= _BELIEVED_Z else (WIDENED_TO / abs(z)) ** 2


def informed(parameters: ParameterSet, shared: FloatArray, trust: float = 1.0, last: str = EXACT) -> InformedSet:
    """The parameters with the posterior of their shared scores (m, len(SHARED)) as a normal prior.

    `trust` between 0 (the plain prior) and 1. The parameter `last` is drawn last, so that its own column moves nothing
    else.
    """
    size = len(parameters)
    mean, root = np.zeros(size), np.eye(size)
    order = [key for key in SHARED if key in parameters.keys and key != last]
    order += [last] if last in SHARED and last in parameters.keys else []
    columns = [parameters.column(key) for key in order]
    taken = shared[:, [SHARED.index(key) for key in order]]
    covariance = trust * np.cov(taken, rowvar=False) + (1 - trust + 1e-9) * np.eye(len(order))
    mean[columns] = trust * taken.mean(axis=0)
    root[np.ix_(columns, columns)] = np.linalg.cholesky(covariance)
    return InformedSet(parameters=parameters.parameters, mean=mean, root=root)
