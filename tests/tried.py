"""Libraries whose trials are one's own, made in a base that is described, for the tests of viscosity."""

from __future__ import annotations

from optiform.library.models import Base, Library, Trust

ANY = (0.0, 100.0)


def tried(library: Library, *bases: str) -> Library:
    """Return the library with the trials of these bases as one's own, in any blend of the common surfactants."""
    trials = tuple(
        trial.model_copy(update={"trust": Trust.OWN}) for trial in library.trials if trial.base in bases
    )
    shares = {"anionic": ANY, "amphoteric": ANY, "nonionic": ANY}
    wide = tuple(Base(name=base, active=ANY, shares=shares) for base in bases)
    return library.model_copy(update={"trials": trials, "bases": wide})
