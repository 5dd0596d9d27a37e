"""Writes results as JSON, CSV and workbooks, with every digit."""
