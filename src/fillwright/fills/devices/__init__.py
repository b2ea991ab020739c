"""Named musical ideas: the three families, and the register of their names."""
