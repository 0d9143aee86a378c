"""Units at the door, constants with their source, estimates, budgets, draws and rounding."""
