"""Draws the pictures of a result, each with the table of its numbers."""
