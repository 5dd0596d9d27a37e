"""Bad and odd inputs by kinds: each kind makes as many different ones as it is asked for."""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.fuzz.workshop import ANSWER, BRIEF, FORMULA, PLAN
from tests.library.files import COMPOSITION, MATERIALS, SUBSTANCES, TOML

Make = Callable[[Random], "Case"]
ABSURD = ("1e300", "-1e300", "1e308", "1e999", "nan", "-inf", "9" * 4400, "0x" + "f" * 5000, "-1", "1e-320")
STEERING = ("\x1b[31m", "\x07", "\r", "\x0b", "\x9b2J", "\u202e", "\x7f", "\x00")
MISSPELT = (
    "decly",
    "function:oill",
    "tag:sulfat",
    "substance:Aqva",
    "share:anoinic",
    "materil:gum",
    "prize",
    "",
)
CHECK = ("check", "brief.toml")
EVALUATE = ("evaluate", "today.csv", "--library", "lib")
SHEET = ("sheet", "today.csv", "--batch", "1kg", "--library", "lib")
READERS = {
    "brief.toml": CHECK,
    "today.csv": EVALUATE,
    "plan.toml": ("shop", "plan.toml"),
    "unit.toml": (*SHEET, "--unit", "unit.toml"),
    "answer.json": ("sheet", "answer.json", "--batch", "1kg", "--library", "lib"),
    "lib/library.toml": ("library", "check", "lib"),
    "lib/materials.csv": ("library", "check", "lib"),
    "lib/substances.csv": ("library", "list", "lib"),
    "lib/composition.csv": CHECK,
    "lib/limits.csv": ("library", "check", "lib"),
    "lib/allergens.csv": ("library", "check", "lib"),
    "lib/titration.csv": ("library", "check", "lib"),
    "prices.csv": ("recost", ".", "--prices", "prices.csv", "--workers", "1", "--library", "lib"),
    "spec.toml": ("library", "add", "sea-salt", "--library", "lib", "--from", "spec.toml", "--dry-run"),
}
"""Every file that is read, with a command that reads it."""


@dataclass(frozen=True)
class Case:
    """One input: files beside the sound ones, and the command.

    Attributes
    ----------
    refused : bool, optional
        Whether it must be refused (True), must not be (False), or either will do.
    names : str
        What a refusal has to name.
    prepare : callable, optional
        What is done in the folder beyond writing files: pipes, links.
    """

    arguments: tuple[str, ...]
    files: Mapping[str, str | bytes | None] = field(default_factory=dict)
    refused: bool | None = True
    names: str = ""
    prepare: Callable[[Path], None] | None = None


def _role(random: Random) -> tuple[str, tuple[str, ...]]:
    return random.choice(sorted(READERS.items()))


def no_file(random: Random) -> Case:
    """A folder, a pipe, a device, a link to itself, or nothing, where a file is read."""
    name, command = _role(random)
    if name.startswith("lib/") and name not in ("lib/composition.csv", "lib/materials.csv"):
        name, command = "today.csv", EVALUATE

    def prepare(folder: Path) -> None:
        path = folder / name
        {
            "folder": path.mkdir,
            "pipe": lambda: os.mkfifo(path),
            "device": lambda: path.symlink_to("/dev/zero"),
            "loop": lambda: path.symlink_to(path.name),
            "nothing": lambda: None,
        }[what]()

    what = random.choice(("folder", "pipe", "device", "loop", "nothing"))
    return Case(command, {name: None}, names=Path(name).stem, prepare=prepare)


def impossible_name(random: Random) -> Case:
    """A path with a NUL, or longer than any file's name, wherever a file names another one."""
    path = random.choice(("a\\u0000", "b" * 256, "c" * 5000, "d/" * 3000))
    key = random.choice(("library", "prices", "shelf", "formula", "make", "stock"))
    if key == "formula":
        text = BRIEF + f'[baseline]\nformula = "{path}"\nkeep = ["gum"]\n'
    elif key in ("make", "stock"):
        line = f'stock = "{path}"\n' if key == "stock" else ""
        named = path if key == "make" else "today.csv"
        text = f'title = "x"\nlibrary = "lib"\n{line}[[make]]\nformula = "{named}"\nbatch = "1kg"\n'
        return Case(("shop", "plan.toml"), {"plan.toml": text})
    elif key == "library":
        text = BRIEF.replace('"lib"', f'"{path}"')
    else:
        text = f'{key} = "{path}"\n{BRIEF}'
    return Case(random.choice((CHECK, ("design", "brief.toml"))), {"brief.toml": text})


def impossible_argument(random: Random) -> Case:
    """The same as an argument, also with half a surrogate pair."""
    path = random.choice(("a\0b", "b" * 256, "c/" * 3000, "\ud800.toml", "\x1b[31m.csv", "no\nfile"))
    before, after = random.choice(
        (
            (["check"], []),
            (["evaluate"], []),
            (["library", "check"], []),
            (["shop"], []),
            (["lot"], ["--active", "3"]),
        )
    )
    return Case((*before, path, *after))


def too_large(random: Random) -> Case:
    """A file beyond its limit in bytes; it has holes, so it costs no disk."""
    name, command = random.choice(
        (("brief.toml", CHECK), ("today.csv", EVALUATE), ("answer.json", READERS["answer.json"]))
    )

    def prepare(folder: Path) -> None:
        with (folder / name).open("ab") as file:
            file.truncate(random.choice((70_000_000, 3_000_000_000)))

    return Case(command, names=name, prepare=prepare)


def many_rows(random: Random) -> Case:
    """More rows than are read."""
    return Case(
        EVALUATE, {"today.csv": FORMULA + "gum,0\n" * random.choice((1_000_001, 2_000_000))}, names="today"
    )


def random_bytes(random: Random) -> Case:
    """Bytes without any sense, or the beginning of another kind of file."""
    name, command = _role(random)
    head = random.choice(
        (b"", b"PK\x03\x04", b"%PDF", b"\xff\xfe", b"\x1f\x8b", b"\xd0\xcf\x11\xe0", b"\xef\xbb\xbf")
    )
    return Case(command, {name: head + random.randbytes(random.choice((1, 40, 3000)))}, names=Path(name).stem)


def not_utf8(random: Random) -> Case:
    """One byte that is not UTF-8."""
    name, command = random.choice(
        (("brief.toml", CHECK), ("today.csv", EVALUATE), ("lib/materials.csv", CHECK))
    )
    text = {"brief.toml": BRIEF, "today.csv": FORMULA, "lib/materials.csv": MATERIALS}[name].encode()
    place = random.randrange(len(text))
    return Case(
        command,
        {name: text[:place] + random.choice((b"\xe4", b"\x80", b"\xff")) + text[place:]},
        names=Path(name).stem,
    )


def _workbook(sheet: str, more: Mapping[str, bytes] | None = None) -> bytes:
    """Return a workbook with one sheet, as small as one can be (ECMA-376, part 1: from memory)."""
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types"><Default Extension="xml" ContentType="application/xml"/>'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override '
        'PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
        '<Override PartName="/xl/worksheets/sheet1.xml" ContentType='
        '"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{office}/officeDocument" '
        'Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets><sheet name="formula" sheetId="1" r:id="r1"/>'
        "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
        f'Type="{office}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{main}"><sheetData>{sheet}</sheetData></worksheet>',
    }
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
        for name, content in (more or {}).items():
            archive.writestr(name, content)
    return raw.getvalue()


def _row(number: int | str, *cells: str, first: str = "A") -> str:
    inside = "".join(
        f'<c r="{first if place == 0 else chr(65 + place)}{number}" t="inlineStr"><is><t>{cell}</t></is></c>'
        for place, cell in enumerate(cells)
    )
    return f'<row r="{number}">{inside}</row>'


HEADER = _row(1, "material", "percent")


def workbook(random: Random) -> Case:
    """A workbook that unpacks to too much, has cells far out, or is damaged."""
    sound = _workbook(HEADER + _row(2, "water", "100"))
    content = random.choice((
        lambda: _workbook(HEADER, {"xl/junk.bin": bytes(200_000_000)}),
        lambda: _workbook(HEADER + _row(1_048_576, "water", "100")),
        lambda: _workbook(HEADER + _row(10**15, "water", "100")),
        lambda: _workbook(HEADER + _row("9" * 5000, "water", "100")),
        lambda: _workbook(HEADER + _row(2, "water", first="XFD")),
        lambda: _workbook(HEADER + "<row r='2'><c"),
        lambda: _workbook(HEADER + _row(2, "water", "&amp;#27;")),
        lambda: sound[: random.randrange(len(sound))],
        lambda: sound[:200] + random.randbytes(20) + sound[220:],
    ))()  # fmt: skip
    return Case(("evaluate", "today.xlsx", "--library", "lib"), {"today.xlsx": content}, names="today.xlsx")


def outsized_toml(random: Random) -> Case:
    """Integers beyond 64 bits, nesting without end, keys of a hundred parts, lists of ten thousand."""
    name, command = random.choice([pair for pair in READERS.items() if pair[0].endswith(".toml")])
    deep = random.choice((30, 400, 5000, 100_000))
    text = random.choice((
        f"x = {'9' * random.choice((20, 4301, 100_000))}\n",
        f"x = 0x{'f' * random.choice((17, 5000))}\n",
        f"x = {'[' * deep}{']' * deep}\n",
        f"x = {'{a=' * deep}1{'}' * deep}\n",
        f"{'a.' * deep}b = 1\n",
        f"[{'a.' * deep}b]\n",
        "[[include]]\n" * 10_001,
        f"x = [{'1,' * 10_001}]\n",
    ))  # fmt: skip
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
    key = random.choice(("title", "library", "area", "users", "law", "on", "aim", "targets", "include", "choose", "share",
                         "ratio", "needs", "linear", "baseline", "weighing", "certainty", "ranked", "waive"))  # fmt: skip
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
    section = random.choice((
        f'[aim]\nminimise = "{word}"\n', f'[aim]\nthen = ["{word}"]\n', f'[[include]]\nmaterial = "{word}"\n',
        f'[[exclude]]\ntag = "{word}"\n', f'[[when]]\nmaterial = "gum"\nmeasure = "{word}"\nat_most = 1.0\n',
        f'[[when]]\nmaterial = "{word}"\nmeasure = "cost"\nat_most = 1.0\n',
        f'[[linear]]\nname = "x"\nterms = [{{ measure = "{word}" }}]\nat_most = 1.0\n',
        f'[[linear]]\nname = "x"\nterms = [{{ material = "{word}" }}]\nat_most = 1.0\n',
        f'[[ratio]]\nof = "{word}"\nto = "gum"\nat_least = 1.0\n', f'[[share]]\nof = "{word}"\nat_most = 50.0\n',
        f'[[share]]\neach = "{word}"\nat_most = 50.0\n', f'[[choose]]\nfunction = "{word}"\nat_most = 2\n',
        f'[[choose]]\namong = ["{word}"]\nat_most = 2\n', f'[[needs]]\nmaterial = "{word}"\nother = "gum"\n',
        f'[[incompatible]]\none = "gum"\nother = "{word}"\n', f'[[waive]]\nrule = "{word}"\n',
        f'[ranked]\ndiffer_in = ["{word}"]\n',
    ))  # fmt: skip
    if section.startswith("[aim]") or random.random() < 0.8 or not word:
        return Case(CHECK, {"brief.toml": BRIEF + section}, names="brief.toml")
    text = BRIEF.replace("[[include]]", f'"{word}" = {{ at_most = 3.0 }}\n[[include]]', 1)
    return Case(CHECK, {"brief.toml": text}, names="brief.toml")


def misspelt_option(random: Random) -> Case:
    """A name that means nothing as an argument or an option."""
    word = random.choice(("decyl", "prize", "betain", "nettel", "function:oill", "x" * 3000, "\x1b[2J"))
    return Case(random.choice((
        ("why", "brief.toml", word), ("tradeoff", "brief.toml", "--of", word), ("tradeoff", "brief.toml", "--against", word),
        ("library", "show", word, "--library", "lib"), ("sheet", "today.csv", "--batch", "1kg", "--format", word),
        ("lot", "today.csv", "--library", "lib", "--material", word, "--active", "30"), ("start", "--for", word),
        ("tradeoff", "brief.toml", "--third", f"{word}=1,2"), ("library", "lsit", word), (word,),
        ("bench", "today.csv", "--library", "lib", "--batch", "500", "--add", f"{word}=3"), ("check", "brief.toml", f"--{word}"),
    )))  # fmt: skip


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
    section = random.choice((
        "[[include]]\nmaterial = \"gum\"\nat_least = {}\n", '[[ratio]]\nof = "gum"\nto = "nettle"\nat_least = {}\n',
        '[[share]]\nof = "betaine"\nat_most = {}\n', '[[choose]]\nfunction = "surfactant"\nat_most = {}\n',
        '[[linear]]\nname = "x"\nterms = [{{ measure = "cost", times = {} }}]\nat_most = 1.0\n',
        '[[linear]]\nname = "x"\nterms = [{{ measure = "cost" }}]\nat_most = {}\n',
        '[[needs]]\nmaterial = "gum"\nother = "nettle"\nratio = {}\n', "[weighing]\nbatch_g = {}\n",
        "[weighing]\nbalance_g = {}\n", "[weighing]\nerror_percent = {}\n", "[ranked]\nhow_many = {}\n",
        "[certainty]\nlots = {}\n", "[aim]\ntie = {}\n",
    )).format(number)  # fmt: skip
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


def library_slip(random: Random) -> Case:
    """A plausible slip in a library: a number out of order or beyond all sense, a control character in a name."""
    file, text, row, column, value = random.choice((
        ("substances", SUBSTANCES, "Citric Acid", 3, "4.761;3.128;6.396"), ("substances", SUBSTANCES, "Citric Acid", 3, "300"),
        ("substances", SUBSTANCES, "Citric Acid", 4, "1e300"), ("substances", SUBSTANCES, "Citric Acid", 5, "-1e300"),
        ("substances", SUBSTANCES, "Citric Acid", 6, "1e-300"), ("substances", SUBSTANCES, "Xanthan Gum", 6, "0"),
        ("materials", MATERIALS, "gum", 3, "1e300"), ("materials", MATERIALS, "gum", 3, "-4"), ("materials", MATERIALS, "gum", 5, "1e300"),
        ("materials", MATERIALS, "gum", 3, "14,50 EUR"), ("materials", MATERIALS, "gum", 0, "g" * 3000 + "!"),
        ("composition", COMPOSITION, "gum", 2, "99"), ("composition", COMPOSITION, "gum", 2, "1e308"),
        *(("materials", MATERIALS, "gum", 1, f'"Gum {mark} x"') for mark in STEERING),
        *(("substances", SUBSTANCES, "Xanthan Gum", 0, f'"Gum {mark} x"') for mark in STEERING),
    ))  # fmt: skip
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
    text = random.choice((
        f'name = "Quay {json.dumps(random.choice(STEERING[:4]))[1:-1]}"\n', TOML + '"\\u001b" = 1\n',
        TOML + '[[system]]\nname = "x"\nmembers = { gum = [0.1, 1e308] }\n', TOML + '[[system]]\nname = "x"\nmembers = { gun = [0.1, 1] }\n',
        TOML + '[[when]]\nmaterial = "gum"\nmeasure = "function:oill"\nat_most = 1\n',
        TOML + '[[linear]]\nname = "x"\nterms = [{ measure = "cost", times = 1e300 }]\nat_most = 1\n',
        TOML + '[trust]\nprcie = "own"\n', TOML + "currency = 7\n", TOML + '[[measure]]\nname = "cost"\ncolumn = "price"\n',
    ))  # fmt: skip
    return Case(
        random.choice((CHECK, ("library", "check", "lib"))), {"lib/library.toml": text}, names="library.toml"
    )


def bad_formula(random: Random) -> Case:
    """Amounts that cannot be: beyond all sense, below nothing, two rests, unknown materials."""
    text = random.choice((
        "material,grams\nwater,1e308\ngum,1e308\n", "material,percent\nwater,1e308\ngum,1e308\n", "material,percent\nwater,-1\n",
        "material,percent\nwater,q.s.\ngum,qs\n", "material,percent\nwater,q.s.\ngum,101\n", "material,percent\n", "material\nwater\n",
        "material,percent,grams\nwater,1,1\n", "material,grams\nwater,q.s.\n", "material,grams\nwater,0\n", "material,percent\nwatr,100\n",
        "material,percent\n" + "watr,1\n" * 2000, f"material,percent\n{'w' * 100_000},1\n", 'material,percent\n"wat\x1ber",100\n',
        'material,percent\n"water,100\n', "material;percent\nwater;100\n", "material,percent\nwater,nan\n",
        f"material,percent\nwater,{'9' * 5000}\n", "material,percent\nwater,100,,,\n",
    ))  # fmt: skip
    return Case(random.choice((EVALUATE, SHEET)), {"today.csv": text}, names="today.csv")


def bad_answer(random: Random) -> Case:
    """A saved answer that none of ours wrote."""
    deep = random.choice((50, 2000, 200_000))
    line = random.choice((
        '{"material": "water", "percent": NaN}', '{"material": "water", "percent": 1e999}', '{"material": 7, "percent": 7}', "[]", "null",
        f'{{"material": "water", "percent": {"9" * 400}}}', '{"material": "wat\\u001ber", "percent": 1}', '{"material": "\\ud800"}',
        f'{{"material": {"[" * 90}{"]" * 90}, "percent": 5}}', f'{{"material": "water", "percent": {"[" * 90}{"]" * 90}}}',
        '{"material": "water", "percent": true}', f'{{"material": "{"w" * 5000}", "percent": 5}}',
    ))  # fmt: skip
    text = random.choice((
        f'{{"formulas": [{{"rank": 1, "lines": [{line}]}}]}}', f'{{"formulas": [{{"rank": {"9" * 4400}}}]}}', "[" * deep + "]" * deep,
        '{"a":' * deep + "1" + "}" * deep, '{"formulas": 1}', "[]", "null", "{", "", '{"formulas": [{"rank": 2, "lines": []}]}',
        ANSWER[: random.randrange(len(ANSWER))], '{"formulas": [{"rank": "\\u001b", "lines": []}]}',
    ))  # fmt: skip
    return Case(READERS["answer.json"], {"answer.json": text}, names="answer.json")


def absurd_option(random: Random) -> Case:
    """An option with a number beyond all sense, or none at all."""
    word = random.choice((*ABSURD[:-1], "", "two", "\x1b[31m", "1" * 200))
    return Case(random.choice((
        ("sheet", "today.csv", "--library", "lib", "--batch", word), ("weigh", "today.csv", "--library", "lib", "--batch", word),
        ("weigh", "today.csv", "--library", "lib", "--batch", "100", "--balance", word), (*SHEET, "--balance", word), (*SHEET, "--rank", word),
        ("lot", "today.csv", "--library", "lib", "--material", "betaine", "--active", word),
        ("bench", "today.csv", "--library", "lib", "--batch", word, "--add", "acid=1", "--pH", "5"),
        ("bench", "today.csv", "--library", "lib", "--batch", "500", "--add", f"acid={word}", "--pH", "5"),
        ("bench", "today.csv", "--library", "lib", "--batch", "500", "--add", "acid=1", "--pH", word),
        ("tradeoff", "brief.toml", "--third", f"ingredients={word}"), ("library", "add", "sea-salt", "--library", "lib", "--price", word),
        ("recost", ".", "--prices", "prices.csv", "--library", "lib", "--workers", word),
    )))  # fmt: skip


def rank_of_csv(random: Random) -> Case:
    """A rank of a file that holds one formula."""
    rank = str(random.randint(1, 9))
    if random.random() < 0.5:
        return Case((*SHEET, "--rank", rank), names="today.csv")
    return Case(
        ("shop", "plan.toml"),
        {"plan.toml": PLAN.replace('batch = "2kg"', f'batch = "2kg"\nrank = {rank}')},
        names="today.csv",
    )


def bad_plan(random: Random) -> Case:
    """A plan or a unit file with something wrong in it."""
    number = random.choice(ABSURD[:8])
    if random.random() < 0.4:
        key = random.choice(
            ("contents_g", "overfill_percent", "labour_h", "tests_over_units", "vat_percent", "conents_ml")
        )
        return Case(
            READERS["unit.toml"],
            {"unit.toml": f"[unit]\ncontents_ml = 200.0\ndensity = 1.0\n{key} = {number}\n"},
            names="unit.toml",
        )
    text = random.choice((
        PLAN + f"times = {number}\n", PLAN.replace("1000.0", number), PLAN.replace("4.0", number), PLAN.replace('"2kg"', f'"{number}kg"'),
        PLAN.replace("[[make]]", f"spare_percent = {number}\n[[make]]"), PLAN.replace("betaine", "betain"), PLAN.replace("today", "tody"),
        PLAN + '[[supplier]]\nname = "Nobody"\n', PLAN.replace("batch", "bach"), 'title = "x"\nlibrary = "lib"\n',
    ))  # fmt: skip
    return Case(("shop", "plan.toml"), {"plan.toml": text}, names="plan")


def many_faults(random: Random) -> Case:
    """A thousand things wrong at once, and values of a hundred thousand characters."""
    word = random.choice(("nobody", "n" * 100_000, "n'" * 40_000))
    if random.random() < 0.5:
        rows = "".join(f'"{word}{i}",1\n' for i in range(1000 if word == "nobody" else 20))
        return Case(EVALUATE, {"today.csv": "material,percent\n" + rows}, names="today.csv")
    entries = "".join(
        f"[[include]]\nmaterial = {json.dumps(f'{word}{i}')}\n"
        for i in range(1000 if word == "nobody" else 20)
    )
    return Case(CHECK, {"brief.toml": BRIEF + entries}, names="brief.toml")


def one_bad_product(random: Random) -> Case:
    """A folder to recost in which one product is bad: told, and the others are still there."""
    bad = random.choice((
        f"title = {'9' * 5000}\n", 'title = "x"\nprices = "a\\u0000"\n', 'title = "x"\nlibrary = "' + "b" * 300 + '"\n', "title = \n", "\x00",
        f"title = {'[' * 5000}\n", BRIEF + '[baseline]\nformula = "c\\u0000"\n', BRIEF.replace("2.0", "1e308"), "[targets]\n",
    ))  # fmt: skip
    keep = {"plan.toml": None, "answer.json": None, "unit.toml": None}
    return Case((*READERS["prices.csv"], "--format", "csv"), {"brief.toml": None, "shop/bad.toml": bad, "shop/good.toml": BRIEF.replace('"lib"', '"../lib"'), **keep},
                names="good.toml")  # fmt: skip


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
    command = random.choice((
        ("check", "brief.toml", "--format", form), ("design", "brief.toml", "--format", form), ("shop", "plan.toml", "--format", form),
        (*SHEET, "--brief", "brief.toml")[:4] + ("--brief", "brief.toml", "--format", form),
    ))  # fmt: skip
    named = mark if mark in ("=1+1", "+1", "-1", "@x", "\uff1d1") else ""
    materials = MATERIALS.replace("Nettle extract", f"{named}Nettle extract")
    plan = PLAN.replace('"Spring"', title.replace(chr(0x7F), chr(92) + "u007F"))
    return Case(
        command, {"brief.toml": brief, "lib/materials.csv": materials, "plan.toml": plan}, refused=False
    )


KINDS: tuple[Make, ...] = (
    no_file, impossible_name, impossible_argument, too_large, many_rows, random_bytes, not_utf8, workbook, outsized_toml, broken_toml,
    wrong_type, misspelt, misspelt_option, against_itself, absurd_bound, library_slip, strong_ion, law_slip, library_rule, bad_formula,
    bad_answer, absurd_option, rank_of_csv, bad_plan, many_faults, one_bad_product, any_title, steering_titles,
)  # fmt: skip
