"""Formula design for rinse-off cleansers: one mixed-integer linear program, explained."""

__version__ = "0.1.0"
