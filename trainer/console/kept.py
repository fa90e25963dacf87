"""The name under which a browser keeps the attempts of whoever practises at it."""

KEPT = "trainer-attempts"
KEPT_LEARNT = "trainer-learnt-"
"""And this, followed by the rig, what is known of its parts."""
KEPT_FIRST_RUN = "trainer-first-run"
"""And this whether the guided first run was done."""
KEPT_SEQUENCES = "trainer-sequences"
"""And this the last times of sequences, and sequences of one's own."""
