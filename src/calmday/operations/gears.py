"""The verbs about power and gears. The command line, the page and the Python interface call these."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.coastdown_file import read_coastdown
from calmday.files.named_files import FolderFiles, SeenFiles, inputs_digest
from calmday.files.pull_file import read_pulls
from calmday.files.run_file import read_run
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.metrology.draws import FloatArray
from calmday.model.vehicle_model import VehicleModel
from calmday.operations.knowledge import known_vehicle
from calmday.physics.power_correction import Standard
from calmday.procedures.gears import (
    asked,
    gears,
    hold,
    prediction,
    road_load_curve,
    swept,
    thrust_curves,
    usual_speed_kmh,
)
from calmday.procedures.gears_flags import flags_of_gears
from calmday.procedures.gears_forces import Conditions, conditions
from calmday.procedures.gears_result import AlongRun, GearsResult
from calmday.procedures.gears_run import along_run
from calmday.procedures.gears_shifts import NO_CARD, NO_CHANGES, shift_card, shift_points
from calmday.procedures.gears_vehicle import GearVehicle, prior_of
from calmday.procedures.knowledge import FEWEST_DRAWS as FEWEST_KNOWN_DRAWS
from calmday.procedures.pull import reduce_pulls as fit_pulls
from calmday.procedures.pull_result import PullResult
from calmday.procedures.pull_summary import result_of_pulls
from calmday.procedures.shift_points import LOAD_SHARE
from calmday.procedures.weighed_run import FEWEST_DRAWS, WeighedRun, reduce_weighed_run
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.coastdown import CoastdownDay
from calmday.records.pull import PullDay
from calmday.records.vehicle import Vehicle
from calmday.reports.gears_sentence import gears_headline
from calmday.reports.pull_sheet import pull_headline

DEFAULT_GEAR_DRAWS = 1000
DEFAULT_GEAR_SEED = 20260412
FEWEST_GEAR_DRAWS = 100

__all__ = [
    "Conditions",
    "GearStudy",
    "PullResult",
    "conditions",
    "reduce_pull_file",
    "reduce_pulls",
    "study_gears",
    "study_gears_file",
]


class GearStudy:
    """A vehicle drawn once, to be asked again and again: other wind, grade, load, air or speed (a moved slider)."""

    def __init__(
        self,
        vehicle: Vehicle,
        drawn: GearVehicle,
        *,
        seed: int,
        standard: Standard | None = None,
        run: AlongRun | None = None,
        files: tuple[str, ...] = (),
        inputs_sha256: str = "",
    ) -> None:
        self.vehicle = vehicle
        self.drawn = drawn
        self.run = run
        self.seed = seed
        self._standard = standard
        self._made_from = (files, inputs_sha256)

    def answer(
        self,
        on: Conditions | None = None,
        *,
        speed_kmh: float | None = None,
        speedometer_factor: float | None = None,
        reserve: float | None = None,
        changes: bool = True,
    ) -> GearsResult:
        """Everything about the gears in the given conditions, the calm day on the level where none are given.

        `speed_kmh` the speed to judge reserves at; `speedometer_factor` true over indicated speed; `reserve` the share
        of full load to keep in hand after a change up for least fuel (0.18). Without `changes` the changes of gear and
        the card stay empty, for who asks often and shows neither.
        """
        on = on if on is not None else Conditions()
        made = swept(self.drawn, on)
        speed = speed_kmh if speed_kmh is not None else usual_speed_kmh(made)
        found = gears(made, speed)
        held = hold(made, found)
        files, digest = self._made_from
        share = LOAD_SHARE if reserve is None else 1 - reserve
        plain = GearsResult(
            vehicle=self.vehicle.name,
            sentence="",
            asked=asked(self.drawn, on, speed, speed_kmh is None, self._standard),
            gears=found,
            hold=held,
            shift_points=shift_points(made, speedometer_factor, share) if changes else NO_CHANGES,
            shift_card=shift_card(made, held.gear, speedometer_factor, share) if changes else NO_CARD,
            thrust=thrust_curves(made),
            road_load=road_load_curve(made),
            acceleration=prediction(self.drawn, on, self.seed),
            run=self.run,
            flags=flags_of_gears(self.vehicle, made, self._standard),
            provenance=Provenance(
                program="calmday", version=__version__, seed=self.seed, inputs_sha256=digest, files=files
            ),
        )
        return msgspec.structs.replace(plain, sentence=gears_headline(plain))

    def __repr__(self) -> str:
        return f"<GearStudy: {self.vehicle.name}>"


def study_gears(
    vehicle: Vehicle,
    run: WeighedRun | None = None,
    coastdowns: Sequence[CoastdownDay] = (),
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
    standard: Standard | None = None,
    smooth_rps: float | None = None,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
    known: tuple[VehicleModel, dict[str, FloatArray]] | None = None,
) -> GearStudy:
    """Draw a vehicle in memory; with a reduced run, from what that run taught, with coastdowns, from what all of them
    taught together; or from what is `known` of it. Raises ValueError for too few draws.

    `standard` what the full-load curve is corrected to; `smooth_rps` lowest engine speed that runs cleanly (1/s).
    """
    if draws < FEWEST_GEAR_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_GEAR_DRAWS} or more")
    simulated = run.simulated if run is not None else None
    if simulated is not None:
        known = simulated.model, simulated.values
    if coastdowns:
        runs = () if run is None or simulated is None else (run.run,)
        known = known_vehicle(
            vehicle, runs=runs, coastdowns=coastdowns, draws=max(draws, FEWEST_KNOWN_DRAWS), seed=seed
        ).known
    standard = standard or vehicle.engine.full_load_standard
    return GearStudy(
        vehicle,
        prior_of(vehicle, draws, seed, standard, smooth_rps, known),
        seed=seed,
        standard=standard,
        run=along_run(run, seed, smooth_rps) if run is not None else None,
        files=files,
        inputs_sha256=inputs_sha256,
    )


def study_gears_file(
    vehicle: Path | str,
    run: Path | str | None = None,
    coastdowns: Sequence[Path | str] = (),
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
    standard: Standard | None = None,
    smooth_rps: float | None = None,
) -> GearStudy:
    """Read a build sheet, a run file where one is given and coastdown files, and draw the vehicle. Raises
    InputError."""
    path = Path(vehicle)
    seen = SeenFiles(path.parent)
    name = str(path)
    sheet = in_force(vehicle_states_of(FolderFiles(path.parent, seen).document(path.name, name), name, path.stem), None)
    reduced: WeighedRun | None = None
    if run is not None:
        reduced = _reduced(Path(run), seen, draws, seed)
    return study_gears(
        sheet,
        reduced,
        [read_coastdown(Path(file), seen=seen) for file in coastdowns],
        draws=draws,
        seed=seed,
        standard=standard,
        smooth_rps=smooth_rps,
        files=tuple(seen.sha256),
        inputs_sha256=inputs_digest(seen.sha256.items()),
    )


def _reduced(path: Path, seen: SeenFiles, draws: int, seed: int) -> WeighedRun:
    """The weighed run to learn from, with no fewer draws than a run needs."""
    return reduce_weighed_run(read_run(path, seen=seen), max(draws, FEWEST_DRAWS), seed)


def reduce_pulls(
    day: PullDay,
    run: WeighedRun | None = None,
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> PullResult:
    """Power from pulls in memory; with a reduced run, from what that run taught. Raises InputError, or ValueError for
    too few draws."""
    if draws < FEWEST_GEAR_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_GEAR_DRAWS} or more")
    simulated = run.simulated if run is not None else None
    pulled = fit_pulls(day, draws, seed, None if simulated is None else (simulated.model, simulated.values))
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_pulls(pulled, made_by)
    return msgspec.structs.replace(plain, sentence=pull_headline(plain))


def reduce_pull_file(
    path: Path | str,
    run: Path | str | None = None,
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
) -> PullResult:
    """Read a pull file, and a run file where one is given, and find the power. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    day = read_pulls(Path(path), seen=seen)
    reduced = _reduced(Path(run), seen, draws, seed) if run is not None else None
    digest = inputs_digest(seen.sha256.items())
    return reduce_pulls(day, reduced, draws=draws, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)
