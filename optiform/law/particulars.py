"""What else a label must say, as blanks to fill: reminders, not wording that a law prescribes."""

from optiform.law.models import Particular, place_of
from optiform.law.shipped import shipped_blanks


def particulars(jurisdiction: str) -> tuple[Particular, ...]:
    """Return what else the label of a place carries, as blanks to fill and questions to settle; none without a law.

    A list of reminders in this project's own words; the wording on a label is that of the law.

    Raises
    ------
    BadInput
        An unknown jurisdiction.
    """
    place = place_of(jurisdiction)
    return tuple(
        Particular(**blank.model_dump(exclude={"jurisdiction"}))
        for blank in shipped_blanks()
        if blank.jurisdiction == place
    )
