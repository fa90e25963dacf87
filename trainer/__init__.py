"""Training simulator of a subsea blowout preventer's hydraulic control system."""
