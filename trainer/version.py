"""The version of the trainer, the only place that states it."""

__version__ = "0.11.0"
