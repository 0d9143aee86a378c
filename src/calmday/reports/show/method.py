"""The method in short, with its sources, for those who want to argue."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.show.document import Block, Item, Listing, Paragraph, Section
from calmday.reports.words import number

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import RunResult

SOURCES = (
    "Give or take of each reading and of the result: JCGM 100:2008 and JCGM 101:2008.",
    "Lift of the air on what is weighed: OIML D 28. Litres at 15 °C: ASTM D1250-80, API MPMS 11.1.",
    "Density of moist air: CIPM-2007 (Picard et al., Metrologia 45, 149). Wind limits: UN GTR 15, Annex 4.",
    "Wind from mast to vehicle: logarithmic profile over the roughness of the terrain (Davenport classes).",
    "Road load: Gillespie, Fundamentals of Vehicle Dynamics. Fuel rate from shaft power: Willans line (Heywood).",
    "One run is inconclusive: SAE J1321. Equations, and what is from memory: docs/method.md of the program.",
)


def method_of_run(result: RunResult) -> Section:
    """Four steps, then the sources."""
    steps = [
        Item(text="Fuel: what the can lost, corrected for the lift of the air; litres by its density at 15 °C."),
        Item(
            text="As driven: that fuel over the distance of the cleaned track or, without one, over the distance"
            " declared. Nothing else enters."
        ),
    ]
    if result.calm_day is not None:
        quality = result.quality
        counted = ""
        if quality is not None:
            counted = (
                f" {number(quality.effective_draws, 0)} of {number(quality.draws, 0)} still count after the weighing,"
                f" {'which is enough' if quality.sound else 'which is too few to trust the give-or-take'}."
            )
        steps += [
            Item(
                text="The drive is driven again, second by second, by simulated vehicles that differ as much as is not"
                f" known of the real one; those that burn what was weighed count more.{counted}"
            ),
            Item(
                text="Calm day: each of them drives the same speeds over the same road in still air at 20 °C, 100 kPa"
                " and 50 % humidity, engine and tyres warm. As driven is scaled by the ratio of the two, so that what"
                " both have in common cancels. The hills stay."
            ),
        ]
    blocks: tuple[Block, ...] = (
        Listing(tuple(steps), ordered=True),
        Paragraph("Give or take (±): 95 times in 100 the truth lies inside."),
        Listing(tuple(Item(text=source) for source in SOURCES)),
    )
    return Section(title="The method in short", blocks=blocks)
