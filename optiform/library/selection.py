"""Finds the materials that a reference such as `tag:sulfate` means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from optiform.faults import nearest
from optiform.library.rows import Function

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from optiform.library.models import Library, Part

FUNCTIONS: tuple[str, ...] = get_args(Function)
KINDS = ("material", "function", "tag", "substance")
HOUSE_TAGS = (
    "sulfate", "ethoxylated", "palm", "coconut", "peg", "salt", "acid", "glucoside", "amino-acid", "soap",
    "isethionate", "sulfosuccinate", "cationic-polymer", "anionic-gum", "gum", "suspending", "plant-oil",
    "essential-oil", "fragrance", "allergen", "pearl", "mica", "microplastic", "microparticle", "silicone",
    "amine-source", "nitrosating", "formaldehyde-releaser", "isothiazolinone", "paraben", "botanical", "nut",
    "gluten", "animal", "humectant", "protein", "chelating", "electrolyte", "colourant", "mineral",
)  # fmt: skip


@dataclass(frozen=True)
class Selection:
    """The materials that a reference means, in the library's order.

    Attributes
    ----------
    sure : tuple of str
        Ids of the materials that certainly match.
    maybe : tuple of str
        Ids of those that may: a tag written ``word?``, or a substance that the specification
        allows (``high`` above 0) but does not count (``percent`` 0). None of them is in `sure`.
    """

    sure: tuple[str, ...]
    maybe: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReferenceProblem:
    """Why a reference means nothing in this library."""

    message: str
    allowed: str = ""
    nearest: str = ""


@dataclass(frozen=True)
class SelectionIndex:
    """Every selection that a library offers, by kind and word."""

    by_kind: Mapping[str, Mapping[str, Selection]]

    @classmethod
    def of(cls, library: Library) -> SelectionIndex:
        """Sort the materials of a library under their functions, tags and substances."""
        by_function: dict[str, Selection] = {}
        functions = ((material.id, word) for material in library.materials for word in material.functions)
        for word, members in _grouped(functions).items():
            by_function[word] = Selection(tuple(members))
        held = ((part.material, part.inci) for part in library.parts if part.percent > 0)
        allowed = ((part.material, part.inci) for part in library.parts if part.percent == 0 and part.high)
        stated = (tag.removesuffix("?") for substance in library.substances for tag in substance.tags)
        order = {material.id: i for i, material in enumerate(library.materials)}
        return cls({
            "material": {material.id: Selection((material.id,)) for material in library.materials},
            "function": {word: by_function.get(word, Selection(())) for word in FUNCTIONS},
            "tag": _joined(
                _tagged(library, maybe=False), _tagged(library, maybe=True), order, (*HOUSE_TAGS, *stated)
            ),
            "substance": _joined(held, allowed, order, (substance.inci for substance in library.substances)),
        })  # fmt: skip


def parse_reference(text: str) -> tuple[str, str]:
    """Split ``id``, ``material:id``, ``function:word``, ``tag:word`` or ``substance:INCI`` into kind and word.

    A kind that is not one of `KINDS` is returned as written; `reference_problem` says what is wrong with it.
    """
    kind, colon, word = text.partition(":")
    if not colon:
        return "material", text.strip()
    return kind.strip(), word.strip()


def same_reference(one: str, other: str) -> bool:
    """Tell whether two references are written for the same thing."""
    return parse_reference(one) == parse_reference(other)


def select(library: Library, kind: str, word: str) -> Selection:
    """Return the materials that a kind and a word mean; both tuples are empty when none does.

    A material has a tag if it or any of its substances has it; its functions include the further
    ones in `also`.
    """
    return library.selections.by_kind.get(kind, {}).get(word, Selection(()))


def resolve(reference: str, library: Library) -> tuple[str, ...]:
    """Return the ids of the materials that a reference certainly means, in the library's order."""
    return select(library, *parse_reference(reference)).sure


def reference_problem(library: Library, reference: str) -> ReferenceProblem | None:
    """Tell why a reference means nothing in this library, or None when it means something.

    A function or a tag of the house list that no material has is not a problem; any other word
    that the library does not know is.
    """
    kind, word = parse_reference(reference)
    if kind not in KINDS:
        near = nearest(kind, KINDS)
        return ReferenceProblem(
            f"'{reference}' names no kind of thing that is known",
            allowed="a material id, or material:, function:, tag: or substance: with a name",
            nearest=f"{near}:{word}" if near else "",
        )
    known = library.selections.by_kind[kind]
    if word in known:
        return None
    what = "substance (INCI name)" if kind == "substance" else kind
    near = nearest(word, known)
    prefix = "" if ":" not in reference else f"{kind}:"
    return ReferenceProblem(
        f"there is no {what} '{word}' in the library",
        allowed=", ".join(FUNCTIONS) if kind == "function" else "",
        nearest=f"{prefix}{near}" if near else "",
    )


def _grouped(pairs: Iterable[tuple[str, str]]) -> dict[str, dict[str, None]]:
    """Sort (material, word) pairs under their word; each material once, in order of appearance."""
    groups: dict[str, dict[str, None]] = {}
    for material, word in pairs:
        groups.setdefault(word, {})[material] = None
    return groups


def _joined(
    sure: Iterable[tuple[str, str]],
    maybe: Iterable[tuple[str, str]],
    order: Mapping[str, int],
    words: Iterable[str],
) -> dict[str, Selection]:
    certain, possible = _grouped(sure), _grouped(maybe)
    joined = {word: Selection(()) for word in words}
    for word in {**certain, **possible}:
        inside, perhaps = certain.get(word, {}), possible.get(word, {})
        joined[word] = Selection(_in_order(inside, order), _in_order(perhaps.keys() - inside.keys(), order))
    return joined


def named(reference: str) -> str:
    """Return how a reader names a measure or a reference: "oil", "Sodium Chloride", "anything tagged sulfate"."""
    kind, colon, word = reference.partition(":")
    if kind == "share" and colon:
        return share_of(word)
    if kind == "tag" and colon:
        return f"anything tagged {word}"
    if kind == "undissociated" and colon:
        return f"undissociated {word}"
    return word if kind in ("material", "function", "substance") and colon else reference


def share_of(part: str) -> str:
    """Return "anionic share", "share tagged sulfate"."""
    kind, _, word = part.partition(":")
    return f"share tagged {word}" if kind == "tag" and word else f"{named(part)} share"


def _in_order(materials: Iterable[str], order: Mapping[str, int]) -> tuple[str, ...]:
    return tuple(sorted((material for material in materials if material in order), key=order.__getitem__))


def _tagged(library: Library, *, maybe: bool) -> Iterable[tuple[str, str]]:
    """Yield (material, tag) for every tag that holds for sure, or for every one that may hold."""
    of_substance = {substance.inci: substance.tags for substance in library.substances if substance.tags}
    for material in library.materials:
        for tag in material.tags:
            if tag.endswith("?") == maybe:
                yield material.id, tag.removesuffix("?")
    for part in library.parts:
        for tag in of_substance.get(part.inci, ()):
            if _present(part, tag) != maybe and (part.percent > 0 or part.high):
                yield part.material, tag.removesuffix("?")


def _present(part: Part, tag: str) -> bool:
    return part.percent > 0 and not tag.endswith("?")
