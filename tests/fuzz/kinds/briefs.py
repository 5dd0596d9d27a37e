"""Briefs that are no TOML, or in which something means nothing."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

from tests.fuzz.kinds.case import ABSURD, CHECK, MISSPELT, READERS, Case
from tests.fuzz.workshop import BRIEF, PLAN
from tests.library.on_disk import TOML


def outsized_toml(random: Random) -> Case:
    """Integers beyond 64 bits, nesting without end, keys of a hundred parts, lists of ten thousand."""
    name, command = random.choice([pair for pair in READERS.items() if pair[0].endswith(".toml")])
    deep = random.choice((30, 400, 5000, 100_000))
    text = random.choice(
        (
            f"x = {'9' * random.choice((20, 4301, 100_000))}\n",
            f"x = 0x{'f' * random.choice((17, 5000))}\n",
            f"x = {'[' * deep}{']' * deep}\n",
            f"x = {'{a=' * deep}1{'}' * deep}\n",
            f"{'a.' * deep}b = 1\n",
            f"[{'a.' * deep}b]\n",
            "[[include]]\n" * 10_001,
            f"x = [{'1,' * 10_001}]\n",
        )
    )
    return Case(command, {name: text}, names=Path(name).name)


def broken_toml(random: Random) -> Case:
    """A sound TOML file with a few characters put in or taken out."""
    name, command = random.choice((("brief.toml", CHECK), ("plan.toml", ("shop", "plan.toml"))))
    text = BRIEF if name == "brief.toml" else PLAN
    for _ in range(random.randint(1, 3)):
        place = random.randrange(len(text))
        text = (
            text[:place]
            + random.choice('"[]{}=,.#\n\t\\0') * random.randint(0, 2)
            + text[place + random.randint(0, 3) :]
        )
    return Case(command, {name: text}, refused=None)


def wrong_type(random: Random) -> Case:
    """A key of a brief with a value of another kind."""
    key = random.choice(
        (
            "title",
            "library",
            "area",
            "users",
            "law",
            "on",
            "aim",
            "targets",
            "include",
            "choose",
            "share",
            "ratio",
            "needs",
            "linear",
            "baseline",
            "weighing",
            "certainty",
            "ranked",
            "waive",
        )
    )
    value = random.choice(
        ("1", "true", "[1]", "[[1]]", "{ x = 1 }", "2026-12-31", "[{ x = 1 }]", "nan", "12:00:00")
    )
    return Case(
        CHECK,
        {"brief.toml": f"{key} = {value}\n" + BRIEF.split("\n", 1)[1 if key == "title" else 0]},
        names="brief.toml",
    )


def misspelt(random: Random) -> Case:
    """A name that means nothing, wherever a name may stand."""
    word = random.choice(MISSPELT)
    section = random.choice(
        (
            f'[aim]\nminimise = "{word}"\n',
            f'[aim]\nthen = ["{word}"]\n',
            f'[[include]]\nmaterial = "{word}"\n',
            f'[[exclude]]\ntag = "{word}"\n',
            f'[[when]]\nmaterial = "gum"\nmeasure = "{word}"\nat_most = 1.0\n',
            f'[[when]]\nmaterial = "{word}"\nmeasure = "cost"\nat_most = 1.0\n',
            f'[[linear]]\nname = "x"\nterms = [{{ measure = "{word}" }}]\nat_most = 1.0\n',
            f'[[linear]]\nname = "x"\nterms = [{{ material = "{word}" }}]\nat_most = 1.0\n',
            f'[[ratio]]\nof = "{word}"\nto = "gum"\nat_least = 1.0\n',
            f'[[share]]\nof = "{word}"\nat_most = 50.0\n',
            f'[[share]]\neach = "{word}"\nat_most = 50.0\n',
            f'[[choose]]\nfunction = "{word}"\nat_most = 2\n',
            f'[[choose]]\namong = ["{word}"]\nat_most = 2\n',
            f'[[needs]]\nmaterial = "{word}"\nother = "gum"\n',
            f'[[incompatible]]\none = "gum"\nother = "{word}"\n',
            f'[[waive]]\nrule = "{word}"\n',
            f'[ranked]\ndiffer_in = ["{word}"]\n',
        )
    )
    if section.startswith("[aim]") or random.random() < 0.8 or not word:
        return Case(CHECK, {"brief.toml": BRIEF + section}, names="brief.toml")
    text = BRIEF.replace("[[include]]", f'"{word}" = {{ at_most = 3.0 }}\n[[include]]', 1)
    return Case(CHECK, {"brief.toml": text}, names="brief.toml")


def against_itself(random: Random) -> Case:
    """A rule that sets a thing against itself, in a brief or in a library."""
    one, other = random.choice(
        (("gum", "gum"), ("gum", "material:gum"), ("tag:gum", "tag:gum"), ("function:oil", "function: oil"))
    )
    needs = f'[[needs]]\nmaterial = "{one}"\nother = "{other}"\nratio = 2.0\n'
    pair = f'[[incompatible]]\none = "{one}"\nother = "{other}"\n'
    if random.random() < 0.4:
        return Case(
            ("library", "check", "lib"),
            {"lib/library.toml": TOML + random.choice((needs, pair))},
            names="library.toml",
        )
    ratio = f'[[ratio]]\nof = "{one}"\nto = "{other}"\nat_least = 2.0\n'
    return Case(CHECK, {"brief.toml": BRIEF + random.choice((needs, pair, ratio))}, names="brief.toml")


def absurd_bound(random: Random) -> Case:
    """A number beyond all sense in a brief."""
    number = random.choice(ABSURD)
    section = random.choice(
        (
            '[[include]]\nmaterial = "gum"\nat_least = {}\n',
            '[[ratio]]\nof = "gum"\nto = "nettle"\nat_least = {}\n',
            '[[share]]\nof = "betaine"\nat_most = {}\n',
            '[[choose]]\nfunction = "surfactant"\nat_most = {}\n',
            '[[linear]]\nname = "x"\nterms = [{{ measure = "cost", times = {} }}]\nat_most = 1.0\n',
            '[[linear]]\nname = "x"\nterms = [{{ measure = "cost" }}]\nat_most = {}\n',
            '[[needs]]\nmaterial = "gum"\nother = "nettle"\nratio = {}\n',
            "[weighing]\nbatch_g = {}\n",
            "[weighing]\nbalance_g = {}\n",
            "[weighing]\nerror_percent = {}\n",
            "[ranked]\nhow_many = {}\n",
            "[certainty]\nlots = {}\n",
            "[aim]\ntie = {}\n",
        )
    ).format(number)
    harmless = (
        number == "1e-320"
        or (number == "-1" and "linear" in section)
        or (number == "-1" and "[aim]" in section)
    )
    text = BRIEF + section
    if random.random() < 0.3:
        name = random.choice(("cost", "pH", "mildness", "ingredients", "function:extract"))
        text, harmless = (
            BRIEF.replace("[[include]]", f"{json.dumps(name)} = {{ at_most = {number} }}\n[[include]]", 1),
            number == "1e-320",
        )
        if name in ("function:extract", "ingredients", "cost"):
            harmless = harmless or number == "-1"
    return Case(
        random.choice((CHECK, ("design", "brief.toml"))),
        {"brief.toml": text},
        refused=None if harmless else True,
    )
