"""Tells a family of products in full."""
