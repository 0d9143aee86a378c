"""The caution that fits a fuel, and the one about fuel that is not taxed for the road."""

from __future__ import annotations

from typing import Final

_PETROL: Final = "can on the ground outside, cap on before weighing, in the open, nothing that sparks near"
_DIESEL: Final = (
    "outside, engine off, no flame near, gloves and a rag at hand. High-pressure jets pierce skin: never feel for "
    "leaks."
)
_OF_FUELS: Final = {
    "diesel": f"Diesel: {_DIESEL}",
    "biodiesel": f"Biodiesel: {_DIESEL}",
    "hvo": f"Diesel from oils: {_DIESEL}",
    "petrol": f"Petrol: {_PETROL}.",
    "e10": f"Petrol: {_PETROL}.",
    "ethanol": f"Ethanol: {_PETROL}; by day its flame is hard to see.",
    "lpg": "LPG: in its own bottle, outside and above ground, valve shut before a hose comes off, nothing that sparks "
    "near; the gas lies in low places. Work on it is for licensed hands.",
}
"""Common practice, no source."""

UNTAXED: Final = (
    "Fuel that is dyed, untaxed or home-made: on a public road it is an offence in many countries, with seizure and "
    "fines. Look up your local law before you drive on it."
)


def fuel_caution(kind: str) -> str:
    """What to take care of with a kind of fuel; with one that nobody named what holds for all, the strictest."""
    return _OF_FUELS.get(kind, f"Fuel: {_PETROL}.")
