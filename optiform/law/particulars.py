"""What else a label must say, as blanks to fill: reminders, not wording that a law prescribes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.faults import BadInput, Fault, nearest
from optiform.law.models import JURISDICTIONS
from optiform.library.models import Frozen

if TYPE_CHECKING:
    from optiform.law.models import Jurisdiction


class Particular(Frozen):
    """One blank of a label.

    Attributes
    ----------
    key : str
        Short name, e.g. ``batch``.
    title : str
        What goes there.
    hint : str
        What to look at while filling it.
    provision : str
        Where the duty stands; from memory unless a source is named in docs/reference/law.md.
    is_check : bool
        A question to settle rather than a blank to fill.
    """

    key: str
    title: str
    hint: str
    provision: str
    is_check: bool = False


def _article_19(place: str, seat: str) -> tuple[Particular, ...]:
    law = f"Article 19(1){{}} of Regulation (EC) 1223/2009{place}"
    return (
        Particular(
            key="responsible person",
            title=f"Name and address of the responsible person, seated in {seat}",
            hint="Of several addresses mark that of the product file; imported goods also say from where.",
            provision=law.format("(a)"),
        ),
        Particular(
            key="content",
            title="Content when packed, by weight or by volume",
            hint="Volume needs a measured density. Exempt: under 5 g or 5 ml, samples, single uses.",
            provision=law.format("(b)"),
        ),
        Particular(
            key="durability",
            title="How long it keeps: a date, or how long after opening",
            hint="A date where it keeps 30 months or less; otherwise the months after opening.",
            provision=law.format("(c)"),
        ),
        Particular(
            key="precautions",
            title="Precautions of use",
            hint="At least those that the limits bring; with them those of the safety assessor.",
            provision=law.format("(d)"),
        ),
        Particular(
            key="batch",
            title="Batch number",
            hint="The one of the batch record. A pack too small for it carries it on the outer pack only.",
            provision=law.format("(e)"),
        ),
        Particular(
            key="function",
            title="What it is for",
            hint="Unless its look makes it plain.",
            provision=law.format("(f)"),
        ),
        Particular(
            key="ingredients",
            title="The list of ingredients",
            hint="The ingredient list of this sheet, checked by whoever signs the label.",
            provision=law.format("(g)"),
        ),
        Particular(
            key="language",
            title="The language of the country of sale for content, durability, precautions and function",
            hint="Each country sets its own.",
            provision=f"Article 19(5) of Regulation (EC) 1223/2009{place}",
            is_check=True,
        ),
        Particular(
            key="before sale",
            title="Safety report by a qualified assessor, product file, notification",
            hint="All three come before the first sale; a changed formula needs them again.",
            provision=f"Articles 10, 11 and 13 of Regulation (EC) 1223/2009{place}",
            is_check=True,
        ),
    )


UNITED_STATES = (
    Particular(
        key="identity",
        title="What it is, on the main panel",
        hint="The usual name or a plain description.",
        provision="21 CFR 701.11",
    ),
    Particular(
        key="content",
        title="Net content, in US and metric units, on the main panel",
        hint="Fluid measure for liquids: needs a measured density.",
        provision="21 CFR 701.13",
    ),
    Particular(
        key="business",
        title="Name and place of business of the maker, packer or distributor",
        hint="Say so if it is not the maker.",
        provision="21 CFR 701.12",
    ),
    Particular(
        key="contact",
        title="A US address, telephone number or electronic contact for reports of adverse events",
        hint="Electronic contact may be a web address.",
        provision="Section 609(a) of the FD&C Act (MoCRA 2022)",
    ),
    Particular(
        key="ingredients",
        title="The declaration of ingredients",
        hint="The ingredient list of this sheet, checked by whoever signs the label.",
        provision="21 CFR 701.3",
    ),
    Particular(
        key="warnings",
        title="Warnings that the product needs",
        hint="Without adequate substantiation of safety a warning to that effect is required.",
        provision="21 CFR 740.1 and 740.10",
    ),
    Particular(
        key="foaming bath",
        title="Is it a foaming bath product?",
        hint="Then a caution on irritation of skin and urinary tract is prescribed, with exemptions.",
        provision="21 CFR 740.17",
        is_check=True,
    ),
    Particular(
        key="drug claim",
        title="Does a claim make it a drug?",
        hint="Acne, dandruff, antibacterial action and sun protection do; then other rules hold.",
        provision="Section 201(g) of the FD&C Act",
        is_check=True,
    ),
    Particular(
        key="alpha hydroxy acids",
        title="Does it hold alpha hydroxy acids for exfoliation?",
        hint="The FDA asks for a sunburn alert; a little acid that sets the pH is not meant.",
        provision="FDA guidance of 2005",
        is_check=True,
    ),
)


def particulars(jurisdiction: str) -> tuple[Particular, ...]:
    """Return what else the label of a jurisdiction carries, as blanks to fill and questions to settle.

    Parameters
    ----------
    jurisdiction : str
        EU, UK, US or none (then nothing).

    Raises
    ------
    BadInput
        An unknown jurisdiction.

    Notes
    -----
    A list of reminders in this project's own words; the wording on a label is that of the law.
    """
    if jurisdiction not in JURISDICTIONS:
        near = nearest(jurisdiction, JURISDICTIONS)
        raise BadInput([Fault("", "law", f"'{jurisdiction}' is not known", ", ".join(JURISDICTIONS), near)])
    by_place: dict[Jurisdiction, tuple[Particular, ...]] = {
        "EU": _article_19("", "the Union"),
        "UK": _article_19(", retained in Great Britain", "the United Kingdom"),
        "US": UNITED_STATES,
        "none": (),
    }
    return by_place[jurisdiction]
