"""Pure drawing: plant declarations in, SVG and HTML text out."""
