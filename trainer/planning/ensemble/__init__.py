"""Many plants at once: the same description computed by numpy, one column a plant."""
