"""A run: the clock, the command log, snapshots, replay and the evidence of what was done."""
