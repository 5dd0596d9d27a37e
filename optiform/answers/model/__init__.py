"""What questions answer: frozen values, without wording or arithmetic."""

from optiform.answers.model.answer import Answer, Conflict, Formula
from optiform.answers.model.changes import Changes

__all__ = ["Answer", "Changes", "Conflict", "Formula"]
