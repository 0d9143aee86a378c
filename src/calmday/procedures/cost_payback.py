"""When a conversion has paid for itself: money, distance and years, over uncertain mileage and prices."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import Figure, exact, from_draws
from calmday.metrology.middle import quantiles
from calmday.procedures.cost_draws import CostDraws
from calmday.procedures.cost_money import cost_per_metre, exchange, price_name, price_of
from calmday.procedures.cost_result import Payback

_TAILS: Final = (0.025, 0.5, 0.975)


def payback(drawn: CostDraws) -> Payback | None:
    """The payback of the conversion declared; None where there is none, or where money or mileage do not suffice.

    saving per metre s = c_before p_before - c_after p_after; a year brings s D - e (D mileage, e other yearly cost);
    years = outlay / (s D - e) where that is above zero, never elsewhere. Prices p are those of the year seen times what
    later years may bring. Money later counts like money now.
    """
    conversion, outlay = drawn.sheet.conversion, drawn.outlay
    if conversion is None or outlay is None or drawn.yearly_m is None:
        return None
    currency = conversion.outlay.money.currency
    per_metre: list[FloatArray] = []
    names: list[str] = []
    for name in (conversion.before, conversion.after):
        use = next(use for use in drawn.uses if use.name == name)
        price = price_of(drawn, use, currency)
        if price is None:
            return None
        rate = exchange(drawn.sheet, price.given.price.currency, currency)
        factor = rate.factor if rate is not None else 1.0
        per_metre.append(factor * price.later * cost_per_metre(price, use, over_year=True))
        names.append(price_name(price.given))
    saved = per_metre[0] - per_metre[1]
    other = drawn.yearly_other if drawn.yearly_other is not None else np.zeros_like(saved)
    yearly = saved * drawn.yearly_m - other
    with np.errstate(divide="ignore", invalid="ignore"):
        years = np.where(outlay <= 0, 0.0, np.where(yearly > 0, outlay / yearly, math.inf))
    horizon = conversion.horizon_years
    per = drawn.sheet.per_words
    return Payback(
        use=conversion.after,
        base=conversion.before,
        currency=currency,
        outlay=from_draws(outlay, currency),
        saved_per_distance=from_draws(saved * drawn.sheet.per_m, f"{currency}/{per}"),
        yearly_distance=from_draws(drawn.yearly_m / 1000, "km"),
        yearly_saving=from_draws(yearly, f"{currency}/year"),
        distance=waiting(years * drawn.yearly_m / 1000, "km"),
        years=waiting(years, "years"),
        pays_ever=float(np.isfinite(years).mean()),
        pays_within=float((years <= horizon).mean()),
        horizon=horizon,
        gain=from_draws(horizon * yearly - outlay, currency),
        prices=tuple(names),
    )


def waiting(values: FloatArray, unit: str) -> Figure:
    """A wait that may never end: the middle draw and the ends of the 95 %; not finite where that many never end."""
    finite = np.where(np.isfinite(values), values, np.finfo(np.float64).max)
    low, middle, high = (_or_never(value) for value in quantiles(finite, _TAILS))
    spread = float(values.std(ddof=1)) if np.isfinite(values).all() else math.inf
    return Figure(middle, spread, low, high, unit)


def _or_never(value: float) -> float:
    return value if value < 1e300 else math.inf


def exact_percent(fraction: float) -> Figure:
    """A fraction as a figure in per cent without doubt."""
    return exact(100 * fraction, "%")
