"""Invented drives with known truth, for tests, demo and examples. No other module imports it.

The physics here is on purpose not that of the model: written from text books, with effects that the model
leaves out, so that the model is never its own judge.

    run = simulate(random_scenario(7, wind_speed_10m_mps=8.0))
    write_folder(run, "somewhere")
"""

from calmday.synthetic.folder import write_folder
from calmday.synthetic.scenario import Scenario, random_scenario
from calmday.synthetic.simulate import SimulatedRun, simulate
from calmday.synthetic.truth import Truth

__all__ = ["Scenario", "SimulatedRun", "Truth", "random_scenario", "simulate", "write_folder"]
