"""The smallest change a before-and-after test can show, in which order to drive it, and how many runs it needs.

Runs are compared by the model of docs/planning.md: ln(fuel per distance) = mean + change + drift x order + scatter. In
a balanced order the change is independent of the drift and its variance is 2 s^2 / n for n runs on either side, on
2n - 3 degrees of freedom. The smallest change is the true one that would be told from none four times in five, by a
two-sided test at 5 %: exact, by the noncentral t distribution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from typing import Final

from calmday.metrology.noncentral_t import detectable_shift, power

SEEN: Final = 0.8
SIDES: Final = (1, 2, 4, 8)
MOST_PER_SIDE: Final = 24


def order_of(per_side: int) -> str:
    """In which order to drive `per_side` runs before (A) and after (B) a change, such as ABBA.

    Of all orders that begin with A, one in which a straight drift cancels exactly, or as nearly as can be; then a bent
    drift; then the one with the fewest changes between the two. Past 5 runs on a side, blocks of ABBA and BAAB as
    the signs of Prouhet, Thue and Morse alternate: a straight drift cancels within each, bent ones across them.
    """
    if per_side <= 5:
        return _best_order(per_side)
    blocks = ["ABBA" if k.bit_count() % 2 == 0 else "BAAB" for k in range(per_side // 2)]
    return "".join(blocks) + ("AB" if per_side % 2 else "")


@lru_cache(maxsize=8)
def _best_order(per_side: int) -> str:
    count = 2 * per_side
    orders = (
        "".join("A" if k in chosen else "B" for k in range(count))
        for chosen in combinations(range(count), per_side)
        if chosen[0] == 0
    )
    return min(orders, key=lambda order: (abs(leaning(order, 1)), abs(leaning(order, 2)), changes_in(order), order))


def leaning(order: str, power: int) -> float:
    """How much of a drift that goes with the `power` of the order lands on the change: mean of B less mean of A."""
    middle = (len(order) - 1) / 2
    sides = {arm: [(k - middle) ** power for k, a in enumerate(order) if a == arm] for arm in "AB"}
    return sum(sides["B"]) / len(sides["B"]) - sum(sides["A"]) / len(sides["A"])


def changes_in(order: str) -> int:
    """How often the vehicle is changed over."""
    return sum(1 for a, b in pairwise(order) if a != b)


def degrees_of_freedom(per_side: int) -> int:
    """Of the scatter, once mean, change and drift are fitted; may be below one."""
    return 2 * per_side - 3


def smallest_change(scatter: float, per_side: int, freedom: float) -> float:
    """True change, in the unit of `scatter`, that is told from none four times in five; infinite where it cannot.

    `scatter` one standard deviation of a run, `freedom` degrees of freedom behind it. Solves
    P(|T'| > t) = 0.8, T' noncentral t with noncentrality change / (scatter sqrt(2/n)).
    """
    if freedom <= 0:
        return math.inf
    return scatter * math.sqrt(2 / per_side) * _shift(freedom)


@lru_cache(maxsize=64)
def _shift(freedom: float) -> float:
    return detectable_shift(freedom, SEEN)


def runs_for(change: float, scatter: float, worth: float, sides: Sequence[int] = range(1, MOST_PER_SIDE + 1)) -> int:
    """Fewest runs on a side that show `change`; 0 where not even the most asked do."""
    for per_side in sides:
        freedom = worth + max(degrees_of_freedom(per_side), 0)
        if power(change / (scatter * math.sqrt(2 / per_side)), freedom) >= SEEN:
            return per_side
    return 0
