"""Finds words of a title or claim that make a wash a medicine or need proof."""

from __future__ import annotations

import re
from collections.abc import Iterable

from optiform.law.shipped import shipped_claims

_BETWEEN = r"[\s-]+"


def claim_cautions(jurisdiction: str, texts: Iterable[str]) -> tuple[str, ...]:
    """Return a caution for each kind of claim that the title and other words of a label make; none without a law.

    E.g. ``"eczema" names an illness: ... (Article 1(2) of Directive 2001/83/EC).``

    Notes
    -----
    Whole words count, in any case; a hyphen and a space are the same. A word that is not in the list
    may need proof all the same: the list is a reminder, not advice.
    """
    whole = "\n".join(texts)
    folded, found = _folded(whole), []
    for claim in shipped_claims():
        if claim.jurisdiction != jurisdiction:
            continue
        near = [word for word in claim.words if re.split(_BETWEEN, _folded(word))[0] in folded]
        said = [word for word in near if _pattern(word).search(whole)]
        if said:
            quoted = ", ".join(f'"{word}"' for word in said)
            found.append(f"{quoted} {claim.caution} ({claim.provision}).")
    return tuple(found)


def _folded(text: str) -> str:
    """Return a text without what regular expressions overlook: case, and the dot of an i."""
    return (
        text.casefold()
        .replace("\N{LATIN SMALL LETTER DOTLESS I}", "i")
        .replace("\N{COMBINING DOT ABOVE}", "")
    )


def _pattern(word: str) -> re.Pattern[str]:
    spelt = _BETWEEN.join(re.escape(part) for part in re.split(_BETWEEN, word))
    return re.compile(rf"(?<!\w){spelt}(?!\w)", re.IGNORECASE)
