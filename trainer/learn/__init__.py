"""Learning the parts of a plant: the way of the fluid, questions made from the plant, and what to ask again."""
