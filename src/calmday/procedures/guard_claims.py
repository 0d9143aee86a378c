"""What people say about consumption, checked as typed: the mistakes that can be seen from the words alone."""

from __future__ import annotations

import re
from typing import Final

import msgspec

from calmday.procedures.flag import Flag, flag
from calmday.procedures.weighed_run_result import Severity

LONGEST_CLAIM: Final = 400
_PERCENT = re.compile(r"([+\-\u2212]?\d+(?:[.,]\d+)?)\s*(?:%|per ?cent)", re.I)
_ECONOMY = re.compile(r"\b(mpg|miles? per gallon|km/l|kilomet\w+ per lit\w+|mileage|economy|range)\b", re.I)
_FUEL = re.compile(r"\b(fuel|consumption|l/100 ?km|lit\w+ per 100|g/km|less|thirst\w*|burn\w*)\b", re.I)


class ClaimRule(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake seen in words. `says` must be found; `unless` must not."""

    code: str
    says: re.Pattern[str]
    unless: re.Pattern[str] | None = None
    severity: Severity = "caution"
    saw: str
    why: str
    remedy: str


def _words(*alternatives: str) -> re.Pattern[str]:
    return re.compile("|".join(alternatives), re.I)


CLAIM_RULES: tuple[ClaimRule, ...] = (
    ClaimRule(
        code="gallon-not-named",
        says=_words(r"\bmpg\b", r"\bgal(lon)?s?\b", r"\b(quart|pint|fluid ounce)s?\b"),
        unless=_words(r"\b(us|u\.s\.|american|imp|imperial|uk|british)\b"),
        saw="A gallon, or a part of one, is named without saying which.",
        why="An imperial gallon holds 1.20095 US gallons: a fifth more. So do its quarts and pints.",
        remedy="Write mpg US or mpg imp.",
    ),
    ClaimRule(
        code="mean-of-mpg",
        says=_words(
            r"(average|mean|averag\w+)\b.{0,60}\b(mpg|miles? per gallon|km/l)",
            r"(\bmpg\b|\bkm/l\b).{0,40}\b(averag|mean\b)",
        ),
        saw="Distances per gallon are averaged.",
        why="Fuel adds up, miles per gallon do not: the thirsty legs count too little.",
        remedy="Add up the fuel, add up the distance, and divide once.",
    ),
    ClaimRule(
        code="mean-of-percentages",
        says=_words(r"(average|mean|averag\w+)\b.{0,40}(%|per ?cent)", r"(%|per ?cent).{0,30}\bon average\b"),
        saw="Percentages are averaged.",
        why="A percentage of a short run counts as much as one of a long run, and each has a base of its own.",
        remedy="Keep fuel and distance of every run, and compare those.",
    ),
    ClaimRule(
        code="wind-said-to-cancel",
        says=_words(
            r"(wind|gust)\w*\b.{0,60}\b(cancel|even\w* out|balance|give\w* (it )?(all )?back)",
            r"(cancel|even\w* out).{0,40}\bwind",
        ),
        saw="Wind is said to cancel over the round trip.",
        why="Drag grows with the square of the air speed: out and back costs (wind / speed) squared "
        "more, and side wind costs too.",
        remedy="Take the wind off by the track and the weather, or test when it is calm.",
    ),
    ClaimRule(
        code="side-wind-free",
        says=_words(r"(side|cross) ?-?wind\w*\b.{0,40}(no(thing)?\b|free|n.t matter|not count|no effect)"),
        saw="Side wind is said not to count.",
        why="It raises the air speed, and the drag of a body in yaw; on box-shaped bodies it is the largest term.",
        remedy="Count it like any other wind.",
    ),
    ClaimRule(
        code="downwind-figure",
        says=_words(
            r"(tail|down)\s?-?wind\w*.{0,60}(mpg|l/100|km/l|%|only|just)",
            r"(mpg|l/100 ?km|km/l)\b.{0,40}(tail ?-?wind|down ?-?wind|with the wind|wind behind)",
            r"\bone (leg|way)\b",
        ),
        saw="The figure is of one leg or with the wind.",
        why="What the wind gave on that leg it took on another.",
        remedy="Quote the whole round, or the calm day.",
    ),
    ClaimRule(
        code="published-of-another-kind",
        says=_words(
            r"\b(label|sticker|rated|rating|brochure|factory|official|published|lab(oratory)?|test cycle)\b",
            r"\b(hand ?book|manual|book)('s)? (figure|says|value|consumption|mpg)\b",
        ),
        saw="A road figure is held against a published one.",
        why="Laboratory cycles, steady speeds and road tests are different experiments, with another mass, tyres and "
        "fuel; label rules changed several times.",
        remedy="Say which cycle, which year and which vehicle, and name the differences.",
    ),
    ClaimRule(
        code="owners-averages",
        says=_words(
            r"\b(forum|everyone|everybody|owners?|others?|people|(my|a) (mate|friend|neighbour|brother)\w*)\b.{0,40}"
            r"\b(get|got|say|said|report|claim)"
        ),
        saw="It leans on what others report.",
        why="What people report is a choice of their better tanks, on other roads.",
        remedy="Take it as a range to expect, not as a mark to beat.",
    ),
    ClaimRule(
        code="no-difference-proven",
        says=_words(
            r"\bno (real |significant |visible )?difference\b", r"\bno effect\b", r"(does|did) nothing",
            r"n.t (make|made) (any|a) difference\b", r"\bnot (make (any|a) difference|significant)\b",
            r"\binsignificant\b",
        ),
        saw="It says that there is no difference.",
        why="A test can only say how large a difference could still be hiding.",
        remedy='Say: "we could not see one; if there is one it is smaller than ...", with the figure of this test.',
    ),
    ClaimRule(
        code="false-precision",
        says=_words(
            r"\d{2,}[.,]\d{2,}\s*(mpg|km/l)", r"\d[.,]\d{3,}\s*(l/100|lit\w+ per 100)", r"\d[.,]\d{2,}\s*(%|per ?cent)"
        ),
        severity="note",
        saw="The figure has more digits than a road test can give.",
        why="A weighed drive is good to one or two per cent; the digits beyond that are not known.",
        remedy="Round to the give-or-take, and say the give-or-take.",
    ),
    ClaimRule(
        code="steps-of-mpg",
        says=_words(r"\d\s*(mpg|miles? per gallon)( us| imp| uk)? (better|more|extra|up|gain\w*|improve\w*)\b",
                    r"\b(gain\w*|sav\w+|up by|improve\w* by)\s+(of )?\d+(\.\d+)? ?(mpg|miles? per gallon)"),
        severity="note",
        saw="A saving is counted in miles per gallon.",
        why="Equal steps in miles per gallon are not equal savings: from 15 to 18 mpg saves more than three times "
        "the fuel of from 30 to 33.",
        remedy="Say the fuel for the same distance beside it.",
    ),
    ClaimRule(
        code="one-run-claimed",
        says=_words(r"\b(one|a single|1) (run|tank|lap|trip)\b"),
        saw="It leans on one run.",
        why="Two runs of an unchanged vehicle differ by 1 to 2 % on a good day and by 3 to 5 % from day to day.",
        remedy="Go back to the old state and drive again, three pairs for a fair figure.",
    ),
    ClaimRule(
        code="runs-dropped",
        says=_words(r"\b(threw|throw|thrown|left|leave|took|take|taken|kick\w*|drop\w*)\b.{0,20}\b(out|away|bad|ugly|odd)\b"
                    r".{0,20}\b(run|lap|tank|one)s?\b", r"\bdropp?\w* (the |a )?(run|lap|tank)s?\b"),
        saw="Runs are dropped.",
        why="A run dropped because of its weight takes the answer with it.",
        remedy="Show them with the reason, and say whether it was known before weighing.",
    ),
    ClaimRule(
        code="one-of-many-claimed",
        says=_words(
            r"\btried\b.{0,60}\b(one|this|that)\b.{0,20}\b(work|help|sav)\w*",
            r"\bthe (only )?one that (work|help|sav)\w*",
        ),
        saw="One of several changes is told of.",
        why="Try enough things and one of them will shine by chance.",
        remedy="Report all of them, and test the winner again by itself.",
    ),
    ClaimRule(
        code="peak-torque-cruise",
        says=_words(
            r"(peak|max\w*) torque\b.{0,60}(best|econom|cruise|effic|saves?)",
            r"(cruise|econom\w+).{0,40}\b(peak|max\w*) torque",
        ),
        severity="note",
        saw="The speed of peak torque is taken for the thriftiest.",
        why="The road asks for a fixed power: the tallest gear that carries it without lugging mostly burns least.",
        remedy="Look at grams per kilometre in each gear.",
    ),
    ClaimRule(
        code="best-grams-per-kwh",
        says=_words(r"(best|lowest|least) (g/kwh|grams? per kilowatt|specific)"),
        severity="note",
        saw="Least fuel for the work is taken for least fuel for the road.",
        why="Into the wind an engine works hard and well, and still burns twice as much for a kilometre as with it.",
        remedy="Look at grams per kilometre.",
    ),
    ClaimRule(
        code="top-speed-from-gearing",
        says=_words(r"top speed\b.{0,40}\b(gear\w*|ratio|rpm|governor)", r"\bgear\w* for \d+ ?(km/h|mph)"),
        severity="note",
        saw="Top speed is read from the gearing.",
        why="Power against wind and hills mostly ends it sooner; the tallest gear is often not the fastest.",
        remedy="Ask what each gear holds: calmday gears.",
    ),
    ClaimRule(
        code="chart-power-at-wheels",
        says=_words(r"(chart|rated|brochure|engine)\b.{0,40}\b(hp|kw|ps|power)\b.{0,40}\b(wheel|road)"),
        severity="note",
        saw="Power from a chart is taken for power at the wheels.",
        why="Driveline, fan, height and wear take 10 to 30 % of it.",
        remedy="Find it on the road with a pull or a timed hill.",
    ),
    ClaimRule(
        code="sounds-or-starts-better",
        says=_words(
            r"(starts?|idles?|sounds?|runs?|pulls?)\s+(so much |much |far |a lot )?"
            r"(better|louder|smoother|stronger|nicer|quieter)",
            r"smoke\w*\b.{0,20}\b(gone|less|clean)",
        ),
        saw="Starting, sound or smoke is taken as a sign of less fuel.",
        why="None of them is fuel: a change can start better and burn more.",
        remedy="Weigh it.",
    ),
    ClaimRule(
        code="scale-step-as-accuracy",
        says=_words(
            r"(accurate|good|exact|precise|right|within)\b.{0,20}\b(gram|1 ?g|0\.1 ?g)\b", r"to the (last )?gram"
        ),
        severity="note",
        saw="The scale's step is taken for the accuracy of the test.",
        why="What hides in lines and filter is 8 to 15 g, and a day differs from the next by per cents.",
        remedy="Quote the give-or-take of the comparison.",
    ),
    ClaimRule(
        code="turbo-saves",
        says=_words(
            r"turbo\w*\b.{0,40}\b(saves?|less|better|improv)", r"(bigger|larger) engine\b.{0,40}(more|thirst|worse)"
        ),
        severity="note",
        saw="A turbo, or the size of the engine, is taken to settle the consumption.",
        why="At a steady cruise the work is the same; what counts is how hard and how fast the engine turns for it.",
        remedy="Compare at the same road speed, weighed.",
    ),
)  # fmt: skip


def claim_flags(claim: str) -> tuple[Flag, ...]:
    """What is wrong with a claim as typed; nothing where nothing can be seen from its words."""
    text = " ".join(claim.split())[:LONGEST_CLAIM]
    found = [
        flag(rule.code, rule.severity, f'"{text}": {rule.saw}', rule.why, rule.remedy)
        for rule in CLAIM_RULES
        if rule.says.search(text) and not (rule.unless and rule.unless.search(text))
    ]
    base = _percent_base(text)
    return tuple([base, *found] if base is not None else found)


def _percent_base(text: str) -> Flag | None:
    """A percentage that does not say of what, with both answers it could mean."""
    match = _PERCENT.search(text)
    if match is None:
        return None
    value = abs(float(match.group(1).replace("\u2212", "-").replace(",", ".")))
    if not 0 < value < 90:
        return None
    economy, fuel = bool(_ECONOMY.search(text)), bool(_FUEL.search(text))
    if economy == fuel:
        return flag(
            "percent-of-what", "caution",
            f'"{text}": it does not say whether the per cent are of fuel or of distance.',
            f"{value:g} % less fuel is {100 * value / (100 - value):.1f} % more distance; {value:g} % more distance is "
            f"{100 * value / (100 + value):.1f} % less fuel.",
            "Name the quantity: less fuel per kilometre, or more kilometres per litre.",
        )  # fmt: skip
    if economy:
        return flag(
            "percent-of-distance", "note",
            f'"{text}": {value:g} % are counted on distance per fuel.',
            f"That is {100 * value / (100 + value):.1f} % less fuel, the figure the purse sees; equal steps in "
            f"mpg are not equal savings.",
            "Say both.",
        )  # fmt: skip
    return None
