"""The control unit as it stands: a front elevation laid out by rule from a plant file, live and worked by hand."""
