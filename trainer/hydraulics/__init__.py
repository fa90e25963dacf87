"""Flow laws, the network of a plant and its compilation to flat Python."""
