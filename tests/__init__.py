"""Tests of optiform."""
