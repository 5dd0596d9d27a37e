"""Tells each result in blocks, for every form."""
