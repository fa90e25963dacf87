"""Drills: scenario files, their conditions, scoring and coach."""
