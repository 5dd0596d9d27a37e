"""What is this formula? Its amounts, figures, pH, label, limits and what must be said of it."""

from optiform.answers.describe.formula import describe

__all__ = ["describe"]
