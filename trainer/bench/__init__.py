"""The project's own benchmark: speed beside a baseline of the same run, physics beside outside sources."""
