"""What is odd about the weighings of a run, as plain questions; the words for it are chosen elsewhere."""

from __future__ import annotations

from calmday.records.run import Run, Weighing


def fuel_kind_of(run: Run) -> str | None:
    """Kind of fuel of a run: as the run says, else as the build sheet says, else None."""
    return run.fuel.kind or run.vehicle.engine.fuel


def batches(run: Run) -> tuple[str, ...]:
    """Distinct named batches of fuel in a run, in order of appearance."""
    named = [run.fuel.batch, *(w.batch for w in run.weighings), *(f.batch for f in run.fills)]
    return tuple(dict.fromkeys(name for name in named if name))


def identical_readings(weighing: Weighing, least: int = 3) -> bool:
    """Whether `least` or more repeat readings are all the same: lifted and replaced, a scale seldom agrees so
    well.
    """
    return len(weighing.gross_kg) >= least and len(set(weighing.gross_kg)) == 1


def spread_in_divisions(weighing: Weighing, division_kg: float) -> float:
    """Range of the repeat readings in divisions of the display [1]."""
    return round((max(weighing.gross_kg) - min(weighing.gross_kg)) / division_kg, 6)


def heaviest_gross_kg(run: Run) -> float:
    """Largest load that was on the scale [kg]; 0 without weighings."""
    return max((x for w in run.weighings for x in w.gross_kg), default=0.0)


def over_capacity(run: Run) -> bool:
    """Whether a reading lies above the scale's declared capacity; False where none was declared."""
    capacity = run.scale.capacity_kg
    return capacity is not None and heaviest_gross_kg(run) > capacity * (1.0 + 1e-9)


def tare_above_gross(weighing: Weighing) -> bool:
    """Whether the empty can is said to weigh more than the full one."""
    return min(weighing.gross_kg) < weighing.tare_kg


def net_kg(weighing: Weighing) -> float:
    """Mean reading less tare [kg]."""
    return sum(weighing.gross_kg) / len(weighing.gross_kg) - weighing.tare_kg


def after_heavier_than_before(run: Run) -> bool:
    """Whether more fuel is said to be left after the run than was there before and added."""
    put_in = sum(net_kg(w) for w in run.weighings if w.when != "after")
    left = sum(net_kg(w) for w in run.weighings if w.when == "after")
    return bool(run.weighings) and left > put_in


def tare_on_one_side_only(run: Run) -> bool:
    """Whether some tables carry a tare and others none, while the larger gross carries it: a tare forgotten
    once.
    """
    tares = [w.tare_kg > 0.0 for w in run.weighings]
    return any(tares) and not all(tares)
