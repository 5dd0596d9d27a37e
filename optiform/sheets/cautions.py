"""Words the cautions of a sheet for the materials that it handles."""

from __future__ import annotations

from collections.abc import Iterable

from optiform.answers.describe.cautions import CAUTIONS
from optiform.library.models import Library, Material

HOT_C = 50.0


def cautions_of(materials: Iterable[str], library: Library) -> tuple[str, ...]:
    """Return the cautions for handling some materials: those of the materials first, then the general ones.

    Handling words and tags of the library say what injures. A material without them is not thereby harmless: its safety
    data sheet decides.
    """
    here = [library.material[name] for name in dict.fromkeys(materials)]
    return (*_particular(here), *CAUTIONS)


def _particular(here: list[Material]) -> list[str]:
    found = []
    corrosive = _names(here, "corrosive")
    eyes = [name for name in _names(here, "eye-damage") if name not in corrosive]
    dust = _names(here, "dust")
    if corrosive:
        found.append(
            f"Corrosive: {'; '.join(corrosive)}. Goggles and gloves that stand acid and lye, before the bottle is "
            "opened. Pour it into water, never water into it; keep acid and lye apart. In the eye: rinse for "
            "15 minutes, call a doctor."
        )
    if eyes:
        found.append(f"Can injure eyes for good as it is bought: {'; '.join(eyes)}. Wear goggles.")
    if dust:
        found.append(
            f"Powder that must not be breathed: {'; '.join(dust)}. Weigh it without draught, with a fitting mask, and "
            "wet it soon."
        )
    sensitising = [m.name for m in here if "sensitiser" in m.tags]
    if sensitising:
        found.append(
            f"Can make skin allergic: {'; '.join(sensitising)}. Gloves; nothing undiluted on the skin."
        )
    hot = [m.name for m in here if m.add_above_C is not None and m.add_above_C >= HOT_C]
    if hot:
        found.append(f"Scalds while hot: the steps with {'; '.join(hot)}.")
    return found


def _names(here: list[Material], word: str) -> list[str]:
    return [m.name for m in here if word in m.handling]
