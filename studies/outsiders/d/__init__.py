"""Independent hold-out simulator: weighed runs, coastdowns and comparison sets with known truth.

Plain text-book physics. All vehicles, people and places are invented. Deterministic by seed.
"""
