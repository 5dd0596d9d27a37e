"""Reads what a supplier's sheet says of a material: new substances, preservation, a titration."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError

from optiform.faults import Faults, nearest
from optiform.library.files.columns import entries_of, number
from optiform.library.files.csv_tables import read_csv
from optiform.library.files.refusals import refusals
from optiform.library.files.tables import Columns
from optiform.library.models import ChargeClass, Frozen, Library, Substance, TitrationPoint
from optiform.library.rows import PH, Alkali
from optiform.library.typed.inci_tags import tags_of
from optiform.library.typed.matching import folded

CLASSES: tuple[str, ...] = get_args(ChargeClass)
NO_CLASS = "no surfactant"
NEW = f"INCI: {', '.join(CLASSES)} or {NO_CLASS}"
FIGURES = ("mildness", "natural_origin", "molar_mass")
ANY_PH = "any"
CURVE = Columns(
    "titration",
    ("pH", "acid_mmol_per_kg", "material", "lot", "date", "source"),
    ("pH", "acid_mmol_per_kg"),
)


class CurvePoint(Frozen):
    """One point of a titration: the pH that so much strong acid brings a material to  [mmol/kg]."""

    pH: PH
    acid_mmol_per_kg: Alkali


def window(text: str, place: str, faults: Faults) -> tuple[float, float] | None:
    """Return the two ends of LOW:HIGH, or of one number twice; None after noting what is wrong."""
    ends = [number(end.strip()) for end in text.split(":")]
    values = [end for end in ends if end is not None]
    if len(ends) > 2 or len(values) < len(ends) or values != sorted(values):
        faults.add(place, f"'{text}' cannot be read", allowed="a number, or LOW:HIGH")
        return None
    return values[0], values[-1]


def described_substance(text: str, source: str, faults: Faults) -> Substance | None:
    """Return a substance from "INCI: class, mildness=60", with the tags that its name tells; None after a fault."""
    inci, colon, words = (part.strip() for part in text.rpartition(":"))
    if not colon:
        inci, words = words, NO_CLASS
    word, *figures = (part.strip() for part in words.split(","))
    if not inci or word not in (*CLASSES, NO_CLASS):
        near = nearest(word, (*CLASSES, NO_CLASS))
        faults.add("--new", f"'{text}' cannot be read", allowed=NEW, nearest=near)
        return None
    fields: dict[str, Any] = {"inci": inci, "tags": tags_of(inci), "source": source}
    if word != NO_CLASS:
        fields["charge_class"] = word
    for figure in figures:
        key, _, value = (part.strip() for part in figure.partition("="))
        fields[key] = number(value)
        if key not in FIGURES or fields[key] is None:
            allowed = f"{', '.join(FIGURES)}, each with its number"
            faults.add("--new", f"'{figure}' of '{inci}' cannot be read", allowed=allowed)
            return None
    try:
        return Substance.model_validate(fields)
    except ValidationError as error:
        for refusal in refusals(Substance, error):
            message = f"{refusal.location[-1]} of '{inci}': {refusal.message}"
            faults.add("--new", message, allowed=refusal.allowed)
        return None


def spelt_as_known(keys: Mapping[str, Any], library: Library) -> dict[str, Any]:
    """Return a specification whose INCI names are spelt as the library or its new substances spell them."""
    new = (entry.inci if isinstance(entry, Substance) else entry.get("inci", "")
           for entry in keys.get("new_substances", ()) if isinstance(entry, Mapping | Substance))  # fmt: skip
    known = {folded(inci): inci for inci in (*library.substance, *new)}
    contents = [
        {**part, "inci": known.get(folded(part["inci"]), part["inci"])}
        if isinstance(part, Mapping) and isinstance(part.get("inci"), str)
        else part
        for part in keys.get("contents", ())
    ]
    return {**keys, **({"contents": contents} if contents else {})}


def read_titration(path: Path, material: str, source: str, faults: Faults) -> tuple[TitrationPoint, ...]:
    """Read the titration curve of one material: pH, acid_mmol_per_kg."""
    table = read_csv(path, CURVE, faults)
    if table is None or not {"pH", "acid_mmol_per_kg"} <= table.cells.keys():
        return ()
    points = entries_of(CurvePoint, table, faults).items
    if not points and not faults.found:
        faults.add("", "the titration has no points", allowed="pH,acid_mmol_per_kg in each row", file=path)
    return tuple(TitrationPoint(material=material, source=source, **point.model_dump()) for point in points)


def tags_told(substances: Iterable[Substance]) -> tuple[str, ...]:
    """Return which tags new substances got by their names, in sentences."""
    return tuple(
        f"{substance.inci}: tagged {', '.join(substance.tags)} by its INCI name."
        if substance.tags
        else f"{substance.inci}: its INCI name tells no tag; add tags that house rules and free-from wishes need."
        for substance in substances
    )
