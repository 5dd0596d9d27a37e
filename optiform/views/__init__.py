"""Turns answers into text, pages and files; computes nothing."""
