"""Names materials, limits and measures for a reader, in place of ids and keys."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

from optiform.answers.model.answer import Answer
from optiform.library.models import Library
from optiform.library.selection import named
from optiform.program.requirement import SIDE_WORDS, Requirement

BEYOND = re.compile(r"[,:(]| in | with ")
"""Where the part of a name ends that tells what it is; grade and carrier follow."""
COINED = re.compile(r"(?<![\w-])\w+(?:-\w+)+(?![\w-])")
"""What may be an id that is no word by itself."""
KIND = re.compile(r"\b(?:function|material|substance):(?=\w)")


class Names:
    """The names of a library's materials, short where no two of those in sight would share one.

    Parameters
    ----------
    full : iterable of (material id, name)
    in_sight : iterable of str
        Ids of the materials that are told of together.
    """

    def __init__(self, full: Iterable[tuple[str, str]], in_sight: Iterable[str] = ()) -> None:
        self._full = dict(full)
        shorts = {which: BEYOND.split(name, maxsplit=1)[0].strip() for which, name in self._full.items()}
        taken = Counter(shorts[which] for which in set(in_sight) if which in shorts)
        self._short = {
            which: name if taken[name] < 2 and name else self._full[which] for which, name in shorts.items()
        }

    def short(self, material: str) -> str:
        """Return the name of a material without its grade."""
        return self._short.get(material, material)

    def within(self, material: str) -> str:
        """Return the short name for the inside of a sentence: "xanthan gum", "PEG-120 ..."."""
        return lowered(self.short(material))

    def said(self, text: str) -> str:
        """Return a text with names in place of ids, except ids that are plain words."""
        text = COINED.sub(self._said, text)
        return KIND.sub("", text).replace("undissociated ", "uncharged ")

    def _said(self, found: re.Match[str]) -> str:
        word = found.group()
        return self.within(word) if word in self._full else word

    def measure(self, measure: str) -> str:
        """Return how a reader names a measure: "oil", "uncharged dehydroacetic acid"."""
        kind, colon, word = measure.partition(":")
        return self.within(word) if kind == "material" and colon else self.said(measure_name(measure))

    def limit(self, requirement: Requirement) -> str:
        """Return what a requirement is about: its title up to its bound."""
        if requirement.key.section == "system-acid" and requirement.measure:
            return self.measure(requirement.measure)
        return self.said(requirement.label or requirement.title)

    def asked(self, requirement: Requirement) -> str:
        """Return a requirement as a line of its own, its unit as a reader says it."""
        return (
            self.said(requirement.title).replace("% w/w", "%").replace("% of active matter", "% of actives")
        )

    def moved(self, requirement: Requirement, to: str) -> str:
        """Return a requirement at another bound: "mildness at least 58 points"."""
        if requirement.side is None or requirement.choice:
            return f"{self.asked(requirement)}: {to}"
        return f"{self.limit(requirement)} {SIDE_WORDS[requirement.side]} {to}"


def measure_name(measure: str) -> str:
    """Return how a reader names a measure that is no single material: "oil", "uncharged dehydroacetic acid"."""
    kind, colon, word = measure.partition(":")
    return f"uncharged {inci_lowered(word)}" if kind == "undissociated" and colon else named(measure)


def names_of(answer: Answer) -> Names:
    """Return the names for an answer: those of its library, or of its own lines where it has none."""
    formulas = [*answer.formulas, *([answer.baseline] if answer.baseline is not None else [])]
    lines = [(line.material, line.name) for formula in formulas for line in formula.lines]
    if answer.brief is None:
        return Names(lines, (which for which, _ in lines))
    return names_in(answer.brief.library, (which for which, _ in lines))


def names_in(library: Library, in_sight: Iterable[str] = ()) -> Names:
    """Return the names of a library's materials."""
    return Names(((material.id, material.name) for material in library.materials), in_sight)


def lowered(name: str) -> str:
    """Return a name with a small initial, unless it begins with an abbreviation."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def inci_lowered(name: str) -> str:
    """Return an INCI name for the inside of a sentence: "PEG-150 distearate", "coco-glucoside"."""
    return " ".join("-".join(map(lowered, word.split("-"))) for word in name.split(" "))
