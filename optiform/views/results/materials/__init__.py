"""Results about single materials: one in the place of another, a list matched to a library."""
