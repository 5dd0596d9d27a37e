"""Tells results about single materials: a swap, and a list matched to a library."""
