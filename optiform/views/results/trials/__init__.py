"""Answers about trials told in blocks."""
