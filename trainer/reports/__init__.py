"""The score report of a run, as a page or on paper."""
