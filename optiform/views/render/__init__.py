"""Blocks, drawings and numbers, as text, Markdown, SVG or a page."""
