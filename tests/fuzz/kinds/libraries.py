"""Slips in the files of a library."""

from __future__ import annotations

import json
from random import Random

from tests.fuzz.kinds.case import CHECK, STEERING, Case
from tests.library.on_disk import COMPOSITION, MATERIALS, SUBSTANCES, TOML


def library_slip(random: Random) -> Case:
    """A plausible slip in a library: a number out of order or beyond all sense, a control character in a name."""
    file, text, row, column, value = random.choice(
        (
            ("substances", SUBSTANCES, "Citric Acid", 3, "4.761;3.128;6.396"),
            ("substances", SUBSTANCES, "Citric Acid", 3, "300"),
            ("substances", SUBSTANCES, "Citric Acid", 4, "1e300"),
            ("substances", SUBSTANCES, "Citric Acid", 5, "-1e300"),
            ("substances", SUBSTANCES, "Citric Acid", 6, "1e-300"),
            ("substances", SUBSTANCES, "Xanthan Gum", 6, "0"),
            ("materials", MATERIALS, "gum", 3, "1e300"),
            ("materials", MATERIALS, "gum", 3, "-4"),
            ("materials", MATERIALS, "gum", 5, "1e300"),
            ("materials", MATERIALS, "gum", 3, "14,50 EUR"),
            ("materials", MATERIALS, "gum", 0, "g" * 3000 + "!"),
            ("composition", COMPOSITION, "gum", 2, "99"),
            ("composition", COMPOSITION, "gum", 2, "1e308"),
            *(("materials", MATERIALS, "gum", 1, f'"Gum {mark} x"') for mark in STEERING),
            *(("substances", SUBSTANCES, "Xanthan Gum", 0, f'"Gum {mark} x"') for mark in STEERING),
        )
    )
    lines = text.splitlines()
    place = next(i for i, line in enumerate(lines) if line.split(",")[0] == row)
    cells = lines[place].split(",")
    cells[column] = value
    lines[place] = ",".join(cells)
    return Case(
        random.choice((CHECK, ("library", "check", "lib"))),
        {f"lib/{file}.csv": "\n".join(lines) + "\n"},
        names="row",
    )


def strong_ion(random: Random) -> Case:
    """A counter-ion without a charge, or with one that no ion has."""
    header, *rows = SUBSTANCES.splitlines()
    value = random.choice(("0", "-2", "1e300", "0.1", "seven"))
    text = "\n".join([f"{header},strong_ion_charge", *(f"{line},{value}" for line in rows)]) + "\n"
    return Case(("library", "check", "lib"), {"lib/substances.csv": text}, names="substances.csv, row 2")


def law_slip(random: Random) -> Case:
    """Something wrong in a library's own limits or allergens."""
    if random.random() < 0.5:
        row = random.choice(
            (
                "EU,Aqua,1e300",
                "EU,,1",
                "Mars,Aqua,1",
                "EU,Aqua,-1",
                "EU,Aqua,,",
                "EU,A\x1bqua,1",
                "EU,Aqua,nan",
            )
        )
        return Case(
            ("library", "check", "lib"),
            {"lib/limits.csv": f"jurisdiction,substances,max_percent\n{row}\n"},
            names="limits.csv",
        )
    row = random.choice(
        (
            "EU,Linalool,Linalool,1e300,1",
            "EU,,x,1,1",
            "Mars,a,b,1,1",
            "EU,a,b,-1,1",
            "EU,a,b",
            "EU,a\x07,b,1,1",
        )
    )
    head = "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent"
    return Case(("library", "check", "lib"), {"lib/allergens.csv": f"{head}\n{row}\n"}, names="allergens.csv")


def library_rule(random: Random) -> Case:
    """A control character, a wrong name or an absurd number in library.toml."""
    text = random.choice(
        (
            f'name = "Quay {json.dumps(random.choice(STEERING[:4]))[1:-1]}"\n',
            TOML + '"\\u001b" = 1\n',
            TOML + '[[system]]\nname = "x"\nmembers = { gum = [0.1, 1e308] }\n',
            TOML + '[[system]]\nname = "x"\nmembers = { gun = [0.1, 1] }\n',
            TOML + '[[when]]\nmaterial = "gum"\nmeasure = "function:oill"\nat_most = 1\n',
            TOML + '[[linear]]\nname = "x"\nterms = [{ measure = "cost", times = 1e300 }]\nat_most = 1\n',
            TOML + '[trust]\nprcie = "own"\n',
            TOML + "currency = 7\n",
            TOML + '[[measure]]\nname = "cost"\ncolumn = "price"\n',
        )
    )
    return Case(
        random.choice((CHECK, ("library", "check", "lib"))), {"lib/library.toml": text}, names="library.toml"
    )
