"""The vehicle as uncertain parameters, the drive as a forward model, and what evidence makes of both."""
