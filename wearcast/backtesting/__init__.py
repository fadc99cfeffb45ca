"""How far to trust the forecast: hide what was read last, forecast it from what came before, and compare."""
