"""Regression with a prior, and what its readings are worth: arithmetic over arrays, without libraries or briefs."""
