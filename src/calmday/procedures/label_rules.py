"""Known kinds of published figures: what was driven, how the label was made of it, and where that stands.

`seen`: read at the source named. `remembered`: from memory, not seen.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec

CITY_WEIGHT: Final = 0.55
"""Weight of the city figure in a United States combined figure. 40 CFR 600.209-85 (d) (seen)."""
URBAN_KM, EXTRA_URBAN_KM = 4.052, 6.955
"""Lengths of the two parts of the European cycle of 1996 (remembered; "4 km" and "7 km" in the agency's text, seen)."""

Adjust = Callable[[float, float], tuple[float, float]]
"""City and highway figure in mpg of one kind to those of another."""


class LabelRule(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of published figure. `years` model years, None: open; speeds in km/h, None: not known.

    `start` how the engine starts; `adjusted` what was done to the laboratory figure; `to_label`, `to_laboratory` the
    same as functions of miles per gallon, city and highway; `combines` how city and highway become one figure.
    """

    name: str
    words: str
    years: tuple[int | None, int | None]
    city_kmh: float | None = None
    highway_kmh: float | None = None
    temperature: str = ""
    start: str = ""
    adjusted: str
    combines: str = ""
    laboratory: bool = True
    source: str
    to_label: Adjust | None = None
    to_laboratory: Adjust | None = None


def harmonic(city_mpg: float, highway_mpg: float, weight: float = CITY_WEIGHT) -> float:
    """Combined miles per gallon: 1/(w/city + (1-w)/highway). 40 CFR 600.209-85 (d), Appendix II (seen)."""
    return 1.0 / (weight / city_mpg + (1.0 - weight) / highway_mpg)


def _factors(city: float, highway: float) -> tuple[Adjust, Adjust]:
    return (lambda c, h: (city * c, highway * h)), (lambda c, h: (c / city, h / highway))


def _derived(a: float, b: float, c: float, d: float) -> tuple[Adjust, Adjust]:
    """label = 1/(intercept + slope/laboratory), city a, b and highway c, d."""

    def label(city: float, highway: float) -> tuple[float, float]:
        return 1 / (a + b / city), 1 / (c + d / highway)

    def laboratory(city: float, highway: float) -> tuple[float, float]:
        return b / (1 / city - a), d / (1 / highway - c)

    return label, laboratory


def _same(city: float, highway: float) -> tuple[float, float]:
    return city, highway


_OF_1985 = _factors(0.90, 0.78)
_OF_2008 = _derived(0.003259, 1.1805, 0.001376, 1.3466)
_OF_2017 = _derived(0.004091, 1.1601, 0.003191, 1.2945)
_US_TEST = "20 to 30 °C (68 to 86 °F)"
_US_START = "city: one cold start and one hot; highway: warm"
_US_COMBINED = "harmonically, 55 % city and 45 % highway by distance"

LABEL_RULES: Final[dict[str, LabelRule]] = {
    rule.name: rule
    for rule in (
        LabelRule(
            name="us laboratory", words="United States laboratory figure, not adjusted", years=(1975, None),
            city_kmh=34.1, highway_kmh=77.7, temperature=_US_TEST, start=_US_START,
            adjusted="nothing: as measured on the rollers", combines=_US_COMBINED, to_label=_same, to_laboratory=_same,
            source="40 CFR 600.113-78 (seen), cycles by their published speed tables (seen)",
        ),
        LabelRule(
            name="us 1975", words="United States label, model years to 1984", years=(1974, 1984), city_kmh=34.1,
            highway_kmh=77.7, temperature=_US_TEST, start=_US_START,
            adjusted="nothing; drivers fell short of it, which led to the rule of 1985",
            combines=_US_COMBINED, to_label=_same, to_laboratory=_same,
            source="EPA-AA-CPSB-82-02, history of the program (seen in part); GAO/CED-81-133 on the shortfall (seen)",
        ),
        LabelRule(
            name="us 1985", words="United States label, model years 1985 to 2007", years=(1985, 2007), city_kmh=34.1,
            highway_kmh=77.7, temperature=_US_TEST, start=_US_START,
            adjusted="city figure times 0.90, highway figure times 0.78", combines=_US_COMBINED, to_label=_OF_1985[0],
            to_laboratory=_OF_1985[1], source="40 CFR 600.209-85 (seen)",
        ),
        LabelRule(
            name="us 2008", words="United States label, model years 2008 to 2016", years=(2008, 2016), city_kmh=34.1,
            highway_kmh=77.7, temperature="five tests, one of them at -7 °C (20 °F), one at 35 °C (95 °F)",
            start=_US_START, adjusted="five cycles, or 1/(0.003259 + 1.1805/city) and 1/(0.001376 + 1.3466/highway)",
            combines=_US_COMBINED, to_label=_OF_2008[0], to_laboratory=_OF_2008[1],
            source="40 CFR 600.210-08: the method (seen), its coefficients (remembered)",
        ),
        LabelRule(
            name="us 2017", words="United States label, model year 2017 and later", years=(2017, None), city_kmh=34.1,
            highway_kmh=77.7, temperature="as for 2008", start=_US_START,
            adjusted="five cycles, or 1/(0.004091 + 1.1601/city) and 1/(0.003191 + 1.2945/highway)",
            combines=_US_COMBINED, to_label=_OF_2017[0], to_laboratory=_OF_2017[1],
            source="40 CFR 600.210-12: the method (seen), its coefficients (remembered)",
        ),
        LabelRule(
            name="europe 1980", words="European figures of the 1980s: urban cycle, steady 90 and 120 km/h",
            years=(1978, 1995), city_kmh=18.7, temperature="20 to 30 °C", start="warm",
            adjusted="nothing", source="80/1268/EEC (named in later texts, seen; its content remembered)",
        ),
        LabelRule(
            name="europe 1996", words="European figures from 1996: urban and extra-urban cycle", years=(1996, 2018),
            city_kmh=19.0, highway_kmh=63.0, temperature="20 to 30 °C",
            start="urban: cold, after several hours; extra-urban: straight after it", adjusted="nothing",
            combines="litres by the length of each part, 4 and 7 km",
            source="93/116/EC as told by the Vehicle Certification Agency (seen)",
        ),
        LabelRule(
            name="wltp", words="World harmonised cycle (WLTP), from 2017", years=(2017, None), highway_kmh=46.5,
            temperature="23 °C, carried to 14 °C", start="cold, at the temperature of the test",
            adjusted="carried to 14 °C in Europe", source="(EU) 2017/1151 (remembered)",
        ),
        LabelRule(
            name="japan 10-15", words="Japanese 10-15 mode", years=(1991, 2010), city_kmh=22.7,
            temperature="20 to 30 °C", start="warm", adjusted="nothing", source="remembered",
        ),
        LabelRule(
            name="din 70030", words="DIN 70030: a steady run at three quarters of top speed", years=(1939, 1978),
            start="warm", adjusted="plus a tenth; at most 110 km/h", laboratory=False, source="remembered",
        ),
        LabelRule(
            name="steady speed", words="A figure at one steady speed", years=(None, None), start="warm",
            adjusted="nothing", laboratory=False, source="common practice, no source",
        ),
        LabelRule(
            name="road test", words="A road test by a magazine or a club", years=(None, None),
            adjusted="nothing that is told", laboratory=False, source="common practice, no source",
        ),
        LabelRule(
            name="owner average", words="What an owner says it averages", years=(None, None),
            adjusted="chosen by whoever tells it", laboratory=False, source="common practice, no source",
        ),
        LabelRule(
            name="brim to brim", words="Filled to the brim twice and divided", years=(None, None),
            adjusted="nothing; the level is known to 0.3 to 1 L", laboratory=False,
            source="common practice, no source",
        ),
    )
}  # fmt: skip


def rule_of_year(year: int) -> str | None:
    """The United States rule of a model year."""
    for name in ("us 1975", "us 1985", "us 2008", "us 2017"):
        first, last = LABEL_RULES[name].years
        if (first is None or year >= first) and (last is None or year <= last):
            return name
    return None


def restated(city_mpg: float, highway_mpg: float, of: LabelRule, by: LabelRule) -> tuple[float, float] | None:
    """City and highway under another rule by way of the laboratory figures; None where one of them has no equation."""
    if of.to_laboratory is None or by.to_label is None:
        return None
    return by.to_label(*of.to_laboratory(city_mpg, highway_mpg))
