"""Words on the command line, titles and names."""

from __future__ import annotations

import json
from random import Random

from tests.fuzz.kinds.case import ABSURD, SHEET, STEERING, Case
from tests.fuzz.workshop import BRIEF, PLAN
from tests.library.on_disk import MATERIALS


def misspelt_option(random: Random) -> Case:
    """A name that means nothing as an argument or an option."""
    word = random.choice(("decyl", "prize", "betain", "nettel", "function:oill", "x" * 3000, "\x1b[2J"))
    return Case(
        random.choice(
            (
                ("why", "brief.toml", word),
                ("tradeoff", "brief.toml", "--of", word),
                ("tradeoff", "brief.toml", "--against", word),
                ("library", "show", word, "--library", "lib"),
                ("sheet", "today.csv", "--batch", "1kg", "--format", word),
                ("lot", "today.csv", "--library", "lib", "--material", word, "--active", "30"),
                ("start", "--for", word),
                ("tradeoff", "brief.toml", "--third", f"{word}=1,2"),
                ("library", "lsit", word),
                (word,),
                ("bench", "today.csv", "--library", "lib", "--batch", "500g", "--add", f"{word}=3g"),
                ("swap", "today.csv", word, "betaine", "--library", "lib"),
                ("swap", "today.csv", "betaine", word, "--library", "lib"),
                ("library", "add", "foam", "--library", "lib", "--new", f"{word}: {word}"),
                ("check", "brief.toml", f"--{word}"),
            )
        )
    )


def absurd_option(random: Random) -> Case:
    """An option with a number beyond all sense, or none at all."""
    word = random.choice((*ABSURD[:-1], "", "two", "\x1b[31m", "1" * 200))
    return Case(
        random.choice(
            (
                ("sheet", "today.csv", "--library", "lib", "--batch", word),
                ("weigh", "today.csv", "--library", "lib", "--batch", word),
                ("weigh", "today.csv", "--library", "lib", "--batch", "100g", "--balance", word),
                (*SHEET, "--balance", word),
                (*SHEET, "--rank", word),
                ("lot", "today.csv", "--library", "lib", "--material", "betaine", "--active", word),
                ("bench", "today.csv", "--library", "lib", "--batch", word, "--add", "acid=1g", "--pH", "5"),
                (
                    "bench",
                    "today.csv",
                    "--library",
                    "lib",
                    "--batch",
                    "500g",
                    "--add",
                    f"acid={word}",
                    "--pH",
                    "5",
                ),
                (
                    "bench",
                    "today.csv",
                    "--library",
                    "lib",
                    "--batch",
                    "500g",
                    "--add",
                    "acid=1g",
                    "--pH",
                    word,
                ),
                ("tradeoff", "brief.toml", "--third", f"ingredients={word}"),
                ("library", "add", "sea-salt", "--library", "lib", "--price", word),
                ("library", "add", "sea-salt", "--library", "lib", "--ph-10", word),
                ("library", "add", "sea-salt", "--library", "lib", "--preserves", word),
                ("recost", ".", "--prices", "prices.csv", "--library", "lib", "--workers", word),
            )
        )
    )


def any_title(random: Random) -> Case:
    """A starter brief with whatever title; what it says is read again by the test."""
    marks = (
        '"',
        "'",
        "\\",
        "\n",
        "\r",
        "\t",
        "\x1b",
        "\x00",
        "\x7f",
        "\x85",
        "\u2028",
        "\ud800",
        "#",
        "]",
        "=",
        "\U0001f33f",
        "{",
        "}",
        " ",
    )
    title = "".join(random.choice(marks) + random.choice(("", "Quay")) for _ in range(random.randint(0, 12)))
    return Case(("start", "--title", title, "--library", "lib"), refused=False)


def steering_titles(random: Random) -> Case:
    """Control characters and the marks of formulas where text is free: titles, names, reasons."""
    mark = random.choice((*STEERING, "=1+1", "+1", "-1", "@x", "\t=1", "\uff1d1"))
    form = random.choice(("text", "json", "csv", "md", "html"))
    title = json.dumps(mark + "wash").replace("\\u007f", "\\u007F")
    brief = f"title = {title.replace(chr(0x7F), chr(92) + 'u007F')}\n" + BRIEF.split("\n", 1)[1]
    command = random.choice(
        (
            ("check", "brief.toml", "--format", form),
            ("design", "brief.toml", "--format", form),
            ("shop", "plan.toml", "--format", form),
            (*SHEET[:4], "--brief", "brief.toml", "--format", form),
        )
    )
    named = mark if mark in ("=1+1", "+1", "-1", "@x", "\uff1d1") else ""
    materials = MATERIALS.replace("Nettle extract", f"{named}Nettle extract")
    plan = PLAN.replace('"Spring"', title.replace(chr(0x7F), chr(92) + "u007F"))
    return Case(
        command, {"brief.toml": brief, "lib/materials.csv": materials, "plan.toml": plan}, refused=False
    )
