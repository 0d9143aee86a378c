"""The verbs about one weighed run. The command line, the page and the Python interface call these."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from calmday import __version__
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.run_file import read_run
from calmday.metrology.draws import FloatArray
from calmday.procedures.flag import Flag, flag
from calmday.procedures.lay_by_check import Check, check_of_run
from calmday.procedures.run_sheet import result_of_run
from calmday.procedures.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED, WeighedRun, reduce_weighed_run
from calmday.procedures.weighed_run_result import Provenance, RunResult
from calmday.records.run import Run
from calmday.reports.sentence import headline

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive
    from calmday.procedures.knowledge import Knowledge

__all__ = [
    "DEFAULT_DRAWS",
    "DEFAULT_SEED",
    "Check",
    "Reduction",
    "check_file",
    "demo_folder",
    "read_run",
    "reduce_file",
    "reduce_run",
    "warm_up",
]


class Reduction:
    """A reduced run: the printable `result`, and the draws and curves behind it as arrays."""

    def __init__(self, weighed: WeighedRun, inputs_sha256: str = "", files: tuple[str, ...] = ()) -> None:
        self.weighed = weighed
        self._inputs = (inputs_sha256, files)

    @cached_property
    def result(self) -> RunResult:
        """Every figure of the run with its doubt, as `calmday reduce --json` prints it."""
        digest, files = self._inputs
        plain = result_of_run(
            self.weighed,
            Provenance(
                program="calmday",
                version=__version__,
                seed=self.weighed.seed,
                inputs_sha256=digest,
                files=files,
            ),
        )
        told = _told_by_others(self.weighed.trust)
        return msgspec.structs.replace(plain, sentence=headline(plain), flags=(*plain.flags, *told))

    @property
    def draws(self) -> dict[str, FloatArray]:
        """Equally weighted draws by name, each (m,): fuel_mass_kg, distance_m, as_driven_L_per_100km, and, where the
        drive could be simulated, calm_day_L_per_100km, penalties in percent (`penalty_wind`...) and the vehicle's
        parameters (`drag_area`...). A row is one draw of everything: differences and ratios may be taken row by row."""
        own = self.weighed.draws
        simulated = self.weighed.simulated
        rows = simulated.conditioned.picked if simulated is not None else slice(None)
        found = {
            "fuel_mass_kg": own.fuel_mass_kg[rows],
            "distance_m": own.distance_m[rows],
            "as_driven_L_per_100km": own.as_driven_m3pm[rows] * 1e8,
        }
        if simulated is not None and own.calm_day_m3pm is not None:
            found["calm_day_L_per_100km"] = own.calm_day_m3pm * 1e8
            found |= {f"penalty_{name}": values for name, values in simulated.penalties.items()}
            found |= simulated.values
        return found

    @cached_property
    def along(self) -> AlongTheDrive | None:
        """The drive sample by sample with its doubt, for pictures; None without a track."""
        from calmday.procedures.along_the_drive import along_the_drive  # noqa: PLC0415  (only for pictures)

        return along_the_drive(self.weighed)

    @property
    def curves(self) -> dict[str, FloatArray]:
        """The drive as arrays, each (n,): time_s, latitude_deg, longitude_deg, distance_m, speed_mps,
        acceleration_mps2, height_m, grade, heading_rad. Empty without a track.

        Where the drive could be simulated also air_speed_mps, engine_power_w (at the flywheel, without accessories),
        engine_speed_rps, load (0 to 1) and fuel_rate_kgps, each the mean over draws, with `_low` and `_high` behind
        the name for the bounds of the 95 % interval; NaN before the engine ran and after.
        """
        track = self.weighed.path.track
        if track is None:
            return {}
        names = [
            "time_s",
            "latitude_deg",
            "longitude_deg",
            "distance_m",
            "speed_mps",
            "acceleration_mps2",
            "height_m",
            "grade",
            "heading_rad",
        ]
        return {name: getattr(track, name) for name in names} | (self.along.modelled() if self.along else {})

    def __repr__(self) -> str:
        return f"<Reduction: {self.result.sentence}>"

    def _repr_html_(self) -> str:
        from calmday.reports.notebook import reduction_html  # noqa: PLC0415  (only in a notebook)

        return reduction_html(self.result)


def _told_by_others(trust: float | None) -> tuple[Flag, ...]:
    """That other tests had a say, and whether this run agrees with them."""
    if trust is None:
        return ()
    if trust < 1.0:
        return (
            flag(
                "disagrees-with-other-tests", "caution",
                "This run does not agree with the other tests of this vehicle.",
                f"They count for {100 * trust:.0f} % here, so that neither drags the other along.",
                "Look at wind, weighings and units of this run, and at which state of the build sheet it belongs to.",
            ),
        )  # fmt: skip
    return (
        flag(
            "learnt-from-other-tests", "note",
            "Other tests of this vehicle had a say.",
            "What they tell of drag, tyres and engine stands in place of the build sheet's own doubt. "
            "The figure of a calm day narrows by little: most of its doubt is this day's own wind and weighing.",
            "Quote them with the figure.",
        ),
    )  # fmt: skip


def reduce_run(
    run: Run,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    *,
    compiled: bool = False,
    known: Knowledge | None = None,
) -> Reduction:
    """Reduce a run that is already in memory. Raises InputError where nothing can be computed.

    `known`: what other tests say of the vehicle; this run must not be among them, or it counts twice. `compiled`: by
    machine code, for processes that reduce many runs; see `warm_up`. The figures are the same.
    """
    learnt = None if known is None else known.shared_of(run.vehicle)
    return Reduction(reduce_weighed_run(run, draws, seed, compiled, learnt))


def reduce_file(
    path: Path | str,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    *,
    compiled: bool = False,
    others: Sequence[Path | str] = (),
) -> Reduction:
    """Read a run file with everything it names and reduce it. Raises InputError listing every fault found.

    `others`: files of other tests of this vehicle to learn from. `compiled` as for `reduce_run`.
    """
    seen = SeenFiles(Path(path).parent)
    run = read_run(Path(path), seen=seen)
    learnt = None
    if others:
        from calmday.operations.knowledge import known_vehicle, read_tests  # noqa: PLC0415  (only where asked for)

        tests = read_tests(others, seen)
        known = known_vehicle(run.vehicle, runs=tests.runs, coastdowns=tests.coastdowns, evidence=tests.evidence)
        learnt = known.shared
    files = tuple(seen.sha256)
    return Reduction(reduce_weighed_run(run, draws, seed, compiled, learnt), inputs_digest(seen.sha256.items()), files)


def warm_up() -> float:
    """Make the machine code ready that `compiled=True` uses, and return the seconds it took.

    The first time on a machine it is compiled, which takes seconds; later it is fetched from disk. A process that will
    reduce many runs calls this once at its start. Raises MissingExtraError without the extra `fast`.
    """
    from calmday.model.kernel_compiled import warm_up as compile_kernel  # noqa: PLC0415  (brings numba)

    return compile_kernel()


def check_file(path: Path | str) -> Check:
    """The sixty-second check of a run file before leaving the place."""
    return check_of_run(reduce_weighed_run(read_run(Path(path)), draws=500))


def demo_folder() -> Path:
    """Where the invented example lies: beside the package when installed, in the repository otherwise."""
    from importlib.resources import files  # noqa: PLC0415  (brings archive formats along)

    packaged = Path(str(files("calmday"))) / "examples" / "fen-hauler"
    if packaged.is_dir():
        return packaged
    return Path(__file__).parents[3] / "examples" / "fen-hauler"
