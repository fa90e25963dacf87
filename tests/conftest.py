"""Settings that every test shares."""

import os
import tempfile

from hypothesis import settings

# No deadline: the machine that runs the tests may be busy. Derandomised, so that CI repeats what a desk saw.
settings.register_profile("project", deadline=None, derandomize=True)
settings.load_profile("project")
# Records, journals and keys of tests stay out of the user's own data folder, also those of servers that tests start.
os.environ["TRAINER_DATA"] = tempfile.mkdtemp(prefix="trainer-tests-")
