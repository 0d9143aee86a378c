"""Forces, gearing and engine: pure functions of SI floats and arrays, one effect per module."""
