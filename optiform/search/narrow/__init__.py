"""Ranking a large library on the few materials that matter, with a proof that no other could enter the list."""

from optiform.search.narrow.screening import Screened, screen

__all__ = ["Screened", "screen"]
