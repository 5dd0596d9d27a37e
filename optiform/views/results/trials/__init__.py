"""Tells answers about trials."""
