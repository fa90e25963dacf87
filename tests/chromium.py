"""How headless Chromium is started for the tests (as root, asking nobody outside), and how long the tests may be."""

import os

import pytest

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# TRAINER_THOROUGH=1 runs the long form of what CI runs in short: more seeds, longer watches.
THOROUGH = os.environ.get("TRAINER_THOROUGH", "") not in ("", "0")
in_the_long_form = pytest.mark.skipif(not THOROUGH, reason="the long form: TRAINER_THOROUGH=1")
