"""Returns a library without the guards that a brief waives."""

from __future__ import annotations

from collections.abc import Collection

from optiform.library.models import Library, PreservativeSystem, Rules


def margin_name(system: PreservativeSystem) -> str:
    """Return the name under which a brief may waive the pH margin of a preservative system."""
    return f"margin of {system.name}"


def acid_name(system: PreservativeSystem) -> str:
    """Return the name under which a brief may waive the least undissociated acid of a preservative system."""
    return f"undissociated acid of {system.name}"


def guard_names(library: Library) -> tuple[str, ...]:
    """Return every name that a brief may waive: rules that carry a name, margins, least acids."""
    rules = library.rules
    return tuple(
        dict.fromkeys(
            (
                *(rule.name for rule in rules.every if rule.name),
                *(margin_name(system) for system in library.systems if system.margin),
                *(acid_name(system) for system in library.systems if system.undissociated_at_least),
            )
        )
    )


def waive(library: Library, names: Collection[str]) -> Library:
    """Return the library without the guards of these names; the library itself never changes."""
    if not names:
        return library
    kept = Rules(
        **{kind: tuple(rule for rule in rules if rule.name not in names) for kind, rules in library.rules}
    )
    systems = tuple(_without(system, names) for system in library.systems)
    return library.model_copy(update={"rules": kept, "systems": systems})


def _without(system: PreservativeSystem, names: Collection[str]) -> PreservativeSystem:
    dropped: dict[str, object] = {}
    if margin_name(system) in names:
        dropped["margin"] = None
    if acid_name(system) in names:
        dropped["undissociated_at_least"] = {}
    return system.model_copy(update=dropped) if dropped else system
