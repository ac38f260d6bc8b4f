"""How far to trust it: forecasts made at past dates against what then happened."""
