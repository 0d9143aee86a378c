"""What changes are worth: what each saves, what it costs, and which to make first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import from_draws
from calmday.metrology.middle import quantiles
from calmday.metrology.money import Money
from calmday.procedures.what_if import LITRES_PER_100KM, Steady
from calmday.procedures.what_if_result import Considered, Worth
from calmday.records.what_if import ImaginedChange

FloatArray = NDArray[np.float64]

_TAILS = (0.025, 0.975)


def ranked(
    before: Steady,
    changes: Sequence[tuple[ImaginedChange, Steady, Considered]],
    price: Money | None,
    distance_per_year_m: float | None,
) -> tuple[Considered, ...]:
    """The changes with what they are worth, best first: by fuel saved for each unit of money where every change has a
    cost in one currency, else for each hour of work where every change has that, else by fuel saved."""
    key = _order([change for change, _, _ in changes])
    measured = sorted(
        ((key(change, _saved(before, after)), change, after, shown) for change, after, shown in changes),
        key=lambda item: -item[0],
    )
    return tuple(
        msgspec.structs.replace(
            shown, worth=_worth(rank, change, _saved(before, after), price, distance_per_year_m, key.by)
        )
        for rank, (_, change, after, shown) in enumerate(measured, 1)
    )


def _saved(before: Steady, after: Steady) -> FloatArray:
    """Fuel saved in the wind asked for, m3 per metre, per draw; minus infinity where the speed is not held."""
    saved = before.windy_m3pm - after.windy_m3pm
    return np.where(np.isfinite(saved), saved, -np.inf)


class _order:  # noqa: N801  (a function that remembers what it compares by)
    """How much a change gives, by what all of them can be compared by."""

    def __init__(self, changes: Sequence[ImaginedChange]) -> None:
        currencies = {change.cost.currency if change.cost is not None else "" for change in changes}
        by_money = len(currencies) == 1 and "" not in currencies
        by_work = all(change.work_s for change in changes)
        self.by: Literal["money", "work", "fuel"] = "money" if by_money else "work" if by_work and changes else "fuel"

    def __call__(self, change: ImaginedChange, saved: FloatArray) -> float:
        mean = float(saved.mean())
        if self.by == "money" and change.cost is not None:
            return mean / max(change.cost.amount, 1e-9)
        if self.by == "work" and change.work_s:
            return mean / change.work_s
        return mean


def _worth(
    rank: int,
    change: ImaginedChange,
    saved: FloatArray,
    price: Money | None,
    distance_per_year_m: float | None,
    by: Literal["money", "work", "fuel"],
) -> Worth:
    known = bool(np.isfinite(saved).all())
    money = known and price is not None
    yearly = saved * price.amount * distance_per_year_m if money and price and distance_per_year_m else None
    hours = change.work_s / 3600 if change.work_s else None
    pays = change.cost is not None and price is not None and change.cost.currency == price.currency and known
    mean, low, high = _payback(saved, change.cost, price) if pays else (None, None, None)
    return Worth(
        rank=rank,
        saving=from_draws(LITRES_PER_100KM * saved, "L/100km") if known else None,
        per_year=from_draws(yearly, price.currency) if yearly is not None and price is not None else None,
        currency=price.currency if price is not None else "",
        cost=change.cost.amount if change.cost is not None else None,
        work_hours=hours,
        payback_km=mean,
        payback_low_km=low,
        payback_high_km=high,
        saving_per_work_hour=from_draws(LITRES_PER_100KM * saved / hours, "L/100km") if known and hours else None,
        cost_currency=change.cost.currency if change.cost is not None else "",
        ranked_by=by,
    )


def _payback(
    saved: FloatArray, cost: Money | None, price: Money | None
) -> tuple[float | None, float | None, float | None]:
    """Distance in km until the change has paid for itself: at the mean saving, and the ends of the 95 % interval; None
    for never. What cost nothing has paid at once, whatever the fuel costs."""
    assert cost is not None and price is not None
    if cost.amount == 0:
        return 0.0, 0.0, 0.0
    low, high = quantiles(saved, _TAILS)
    return tuple(  # type: ignore[return-value]
        cost.amount / (each * price.amount) / 1000 if each * price.amount > 0 else None
        for each in (float(saved.mean()), high, low)
    )
