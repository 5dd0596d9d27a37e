"""Smaller or tighter programs with the same best formulas."""
