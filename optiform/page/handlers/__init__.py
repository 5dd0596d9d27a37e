"""Answers requests: one file for each kind of work."""
