"""Two groups of figures compared by the text-book methods: pooled t, Welch, paired t, Fieller, reshuffling, F.

Every function works on plain figures (not logarithms) unless it says so. Published checks: NIST/SEMATECH e-Handbook of
Statistical Methods, 7.3.1 and 1.3.5.3.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import msgspec
import numpy as np

from calmday.metrology.student import incomplete_beta, t_upper_tail, two_sided_t


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """Second minus first: `estimate`, its standard error, degrees of freedom, bounds of the interval, and
    `probability` of a difference at least so large if there were none (two-sided)."""

    estimate: float
    standard_error: float
    freedom: float
    low: float
    high: float
    t: float
    probability: float


def difference(estimate: float, standard_error: float, freedom: float, coverage: float = 0.95) -> Difference:
    """A difference whose error over its standard error follows Student's t."""
    reach = two_sided_t(coverage, freedom) * standard_error
    certain = math.copysign(math.inf, estimate) if estimate else 0.0
    t = estimate / standard_error if standard_error > 0 else certain
    chance = 0.0 if math.isinf(t) else 2.0 * t_upper_tail(abs(t), freedom)
    return Difference(
        estimate=estimate,
        standard_error=standard_error,
        freedom=freedom,
        low=estimate - reach,
        high=estimate + reach,
        t=t,
        probability=chance,
    )


def mean_and_variance(values: Sequence[float]) -> tuple[float, float]:
    """Mean and variance (divisor n - 1; NaN for a single value)."""
    n = len(values)
    mean = math.fsum(values) / n
    return mean, math.fsum((v - mean) ** 2 for v in values) / (n - 1) if n > 1 else math.nan


def pooled_from(n: Sequence[int], mean: Sequence[float], variance: Sequence[float]) -> Difference:
    """Pooled two-sample t from counts, means and variances. e-Handbook 1.3.5.3, equal variances."""
    freedom = n[0] + n[1] - 2
    pooled = sum((k - 1) * v for k, v in zip(n, variance, strict=True) if k > 1) / freedom
    return difference(mean[1] - mean[0], math.sqrt(pooled * (1 / n[0] + 1 / n[1])), freedom)


def welch_from(n: Sequence[int], mean: Sequence[float], variance: Sequence[float]) -> Difference:
    """Welch's t from counts, means and variances, its degrees of freedom not rounded. e-Handbook 1.3.5.3."""
    part = [v / k for k, v in zip(n, variance, strict=True)]
    total = part[0] + part[1]
    freedom = total**2 / sum(p**2 / (k - 1) for k, p in zip(n, part, strict=True)) if total > 0 else sum(n) - 2.0
    return difference(mean[1] - mean[0], math.sqrt(total), freedom)


def pooled_t(first: Sequence[float], second: Sequence[float]) -> Difference:
    """Both groups scatter alike. At least three figures altogether."""
    return _from_values(pooled_from, first, second)


def welch_t(first: Sequence[float], second: Sequence[float]) -> Difference:
    """Each group has its own scatter. At least two figures in each."""
    return _from_values(welch_from, first, second)


def _from_values(
    method: Callable[[Sequence[int], Sequence[float], Sequence[float]], Difference],
    first: Sequence[float],
    second: Sequence[float],
) -> Difference:
    (m1, v1), (m2, v2) = mean_and_variance(first), mean_and_variance(second)
    return method((len(first), len(second)), (m1, m2), (v1, v2))


def paired_t(first: Sequence[float], second: Sequence[float]) -> Difference:
    """Figures in pairs: one-sample t of the differences. At least two pairs."""
    mean, variance = mean_and_variance([b - a for a, b in zip(first, second, strict=True)])
    return difference(mean, math.sqrt(variance / len(first)), len(first) - 1)


def fieller_ratio(
    first: Sequence[float], second: Sequence[float], coverage: float = 0.95
) -> tuple[float, float, float]:
    """Ratio of the means, second over first, and the exact bounds of its interval where both groups scatter alike.

    The bounds are the roots R of (m2 - R m1)^2 = t^2 s^2 (1/n2 + R^2/n1), Fieller 1954 (J. R. Stat. Soc. B 16, 175;
    from memory). NaN bounds where the first mean cannot be told from zero.
    """
    (m1, v1), (m2, v2) = mean_and_variance(first), mean_and_variance(second)
    n1, n2 = len(first), len(second)
    freedom = n1 + n2 - 2
    pooled = (((n1 - 1) * v1 if n1 > 1 else 0.0) + ((n2 - 1) * v2 if n2 > 1 else 0.0)) / freedom
    reach = two_sided_t(coverage, freedom) ** 2 * pooled
    a, b, c = m1 * m1 - reach / n1, -2.0 * m1 * m2, m2 * m2 - reach / n2
    root = b * b - 4.0 * a * c
    if a <= 0.0 or root < 0.0:
        return m2 / m1, math.nan, math.nan
    half = math.sqrt(root)
    return m2 / m1, (-b - half) / (2.0 * a), (-b + half) / (2.0 * a)


MOST_SHUFFLES = 20_000


def reshuffled(
    values: Sequence[float], changed: Sequence[bool], blocks: Sequence[str] | None = None
) -> tuple[float, int]:
    """Chance that labels dealt at random would make the means differ at least as much, and how many ways there are.

    Every way to deal the labels, within each block where blocks are given; a random sample of them where there are
    more than MOST_SHUFFLES. The randomisation test: Fisher, The Design of Experiments (1935), ch. 3 (from memory).
    """
    labels = np.asarray(changed, dtype=bool)
    y = np.asarray(values, dtype=np.float64)
    names = list(blocks) if blocks is not None else [""] * len(y)
    groups = [np.flatnonzero(np.array([n == name for n in names])) for name in dict.fromkeys(names)]
    ways = math.prod(math.comb(len(group), int(labels[group].sum())) for group in groups)
    count = int(labels.sum())
    seen = abs(float(y[labels].mean() - y[~labels].mean())) if 0 < count < len(y) else 0.0
    total = float(y.sum())

    def gap(picked: Sequence[int]) -> float:
        inside = float(y[list(picked)].sum())
        return abs(inside / count - (total - inside) / (len(y) - count))

    tolerance = 1e-12 * (1.0 + seen)
    if ways <= MOST_SHUFFLES:
        choices = (itertools.combinations(group.tolist(), int(labels[group].sum())) for group in groups)
        as_far = sum(gap(list(itertools.chain(*deal))) >= seen - tolerance for deal in itertools.product(*choices))
        return as_far / ways, ways
    generator = np.random.Generator(np.random.PCG64(20260412))
    as_far = 1  # the deal that was made is one of them
    for _ in range(MOST_SHUFFLES - 1):
        deal = [generator.permutation(group)[: int(labels[group].sum())] for group in groups]
        as_far += gap(np.concatenate(deal).tolist()) >= seen - tolerance
    return as_far / MOST_SHUFFLES, ways


def f_upper_tail(f: float, between: float, within: float) -> float:
    """P(F > f) for the F distribution with `between` and `within` degrees of freedom. DLMF 8.17."""
    if f <= 0.0:
        return 1.0
    return incomplete_beta(0.5 * within, 0.5 * between, within / (within + between * f))
