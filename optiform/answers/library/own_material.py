"""Makes a raw material from what its supplier's sheet says, ready to take part in a brief."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from optiform.answers.library.free_alkali import free_alkali_of, measured
from optiform.faults import BadInput, Fault, Faults
from optiform.library.adding import AddedRows, joined, new_material
from optiform.library.likely import range_from_pH
from optiform.library.models import Library, PreservativeSystem, Trust
from optiform.library.typed.specification import typed_specification
from optiform.library.typed.supplier_sheet import (
    ANY_PH,
    described_substance,
    read_titration,
    spelt_as_known,
    tags_told,
    window,
)
from optiform.measures.acidity import charge_stated

UNKNOWN = (
    "Its acid-base behaviour is unknown: a brief that doses the pH leaves it out, by name. Declare it neutral, give "
    "its supplier's pH at 10 %, or a titration."
)
NO_MILDNESS = "It has no mildness index: a brief that limits mildness leaves it out, by name."
NO_ACTIVE = "None of its substances has a surfactant class, so that it brings no active matter."


@dataclass(frozen=True)
class OwnMaterial:
    """The rows of a new material, and what its owner must know of them."""

    added: AddedRows
    notes: tuple[str, ...] = ()


def own_material(
    library: Library,
    keys: Mapping[str, Any],
    *,
    neutral: bool = False,
    pH_10: tuple[float, float] | None = None,
) -> OwnMaterial:
    """Return the rows of a material from its supplier's sheet.

    Parameters
    ----------
    keys : mapping
        Fields of `Specification`.
    neutral : bool
        Whoever adds it declares that it takes up no acid and no base.
    pH_10 : (float, float), optional
        pH of 10 % in water as the supplier states it; twice the same where it was measured.

    Raises
    ------
    BadInput
        Everything wrong with the specification; a declaration against data.

    Notes
    -----
    A pH at 10 % tells what a material with known substances holds beyond them. Of one with unknown substances it
    tells little, because nobody knows what buffers: its free alkali then has the wide range of `range_from_pH`.
    """
    phase = usual_phase(library, str(keys.get("function")))
    added = new_material(library, {"phase": phase, **spelt_as_known(keys, library)})
    whole = joined(library, added)
    lacking = not added.titrations and not charge_stated(whole, added.material.id)
    if neutral and (pH_10 is not None or not lacking):
        message = "declared neutral, and a pH at 10 % given" if lacking else "its acid-base data are known"
        raise BadInput(
            [Fault("", "--neutral", message, "for a material without acid-base data, instead of a pH")]
        )
    notes = list(tags_told(added.substances))
    if neutral:
        added = _with(added, acid_base="neutral")
    elif pH_10 is not None and not lacking and pH_10[0] == pH_10[1]:
        added = measured(library, added, pH_10[0])
    elif pH_10 is not None:
        added = _by_window(library, added, pH_10, lacking=lacking)
    elif lacking:
        notes.append(UNKNOWN)
    washes = added.material.function == "surfactant"
    active = [whole.substance[part.inci] for part in added.parts if whole.substance[part.inci].charge_class]
    if washes and not active:
        notes.append(NO_ACTIVE)
    if washes and any(substance.mildness is None for substance in active):
        notes.append(NO_MILDNESS)
    return OwnMaterial(added, tuple(notes))


def usual_phase(library: Library, function: str) -> str | None:
    """Return the phase in which most materials of a function go in, or None where none says so."""
    phases = Counter(m.phase for m in library.materials if m.function == function and m.phase is not None)
    return min(phases, key=lambda phase: (-phases[phase], phase)) if phases else None


def _by_window(library: Library, added: AddedRows, pH_10: tuple[float, float], *, lacking: bool) -> AddedRows:
    """Return the material with the free alkali of the middle of a supplier's window, ranging over all of it."""
    low, middle, high = (
        free_alkali_of(library, added, pH) for pH in (pH_10[0], (pH_10[0] + pH_10[1]) / 2.0, pH_10[1])
    )
    ends = (low, high)
    if lacking:
        ends = (range_from_pH(low, pH_10[0])[0], range_from_pH(high, pH_10[1])[1])
    return _with(
        added,
        free_alkali=middle,
        free_alkali_low=min(ends),
        free_alkali_high=max(ends),
        pH_10_min=pH_10[0],
        pH_10_max=pH_10[1],
        acid_base="pH" if lacking else None,
    )


def _with(added: AddedRows, **fields: Any) -> AddedRows:
    return replace(added, material=added.material.model_copy(update=fields))


def typed_sheet(
    given: Mapping[str, Any], library: Library
) -> tuple[dict[str, Any], tuple[float, float] | None]:
    """Return the keys of a specification and the stated pH from what somebody typed of a supplier's sheet.

    Parameters
    ----------
    given : mapping
        id, name, function, price, salt, content, new, neutral, pH_10, titration, tag, preserves, preserves_pH, source,
        column, specification: texts and lists of texts, None or empty where nothing is said.

    Raises
    ------
    BadInput
        With everything that cannot be read.
    """
    faults = Faults()
    own = [measure.column for measure in library.measures]
    plain = {name: given[name] for name in ("id", "name", "function", "price", "salt")}
    keys: dict[str, Any] = {}
    with faults.gathering():
        keys = typed_specification(plain, given["content"], given["column"], given["specification"], own)
    source = given["source"] or keys.get("source", "")
    if source:
        keys |= {"source": source, "trust": keys.get("trust", Trust.PUBLISHED)}
    if given["price"] is not None:
        keys["price_trust"] = Trust.OWN
    if given["tag"]:
        keys["tags"] = (*keys.get("tags", ()), *given["tag"])
    described = [described_substance(text, source, faults) for text in given["new"]]
    if described:
        keys["new_substances"] = [*keys.get("new_substances", ()), *filter(None, described)]
    if given["titration"] is not None:
        keys["titration"] = read_titration(given["titration"], given["id"], source, faults)
    stated = window(given["pH_10"], "--ph-10", faults) if given["pH_10"] else None
    if given["preserves"] or given["preserves_pH"]:
        dose = window(given["preserves"] or "", "--preserves", faults)
        text = given["preserves_pH"] or ""
        pH = None if text == ANY_PH else window(text, "--preserves-ph", faults)
        if keys.get("function") != "preservative":
            message = "a material that preserves by itself"
            faults.add("--function", message, allowed="preservative")
        if dose is not None:
            name, members = keys.get("name") or given["id"], {given["id"]: dose}
            keys["system"] = PreservativeSystem(name=name, members=members, pH=pH, source=source)
    faults.raise_if_any()
    return keys, stated
