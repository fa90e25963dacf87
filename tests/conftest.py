"""Settings that every test shares."""

from hypothesis import settings

# No deadline: the machine that runs the tests may be busy. Derandomised, so that CI repeats what a desk saw.
settings.register_profile("project", deadline=None, derandomize=True)
settings.load_profile("project")
