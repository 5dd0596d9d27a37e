"""Renders blocks as text, Markdown or a page."""
