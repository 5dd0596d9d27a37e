"""Formulas, answers, plans and folders in which something cannot be."""

from __future__ import annotations

import json
from random import Random

from tests.fuzz.kinds.case import ABSURD, CHECK, EVALUATE, READERS, SHEET, Case
from tests.fuzz.workshop import ANSWER, BRIEF, PLAN


def bad_formula(random: Random) -> Case:
    """Amounts that cannot be: beyond all sense, below nothing, two rests, unknown materials."""
    text = random.choice(
        (
            "material,grams\nwater,1e308\ngum,1e308\n",
            "material,percent\nwater,1e308\ngum,1e308\n",
            "material,percent\nwater,-1\n",
            "material,percent\nwater,q.s.\ngum,qs\n",
            "material,percent\nwater,q.s.\ngum,101\n",
            "material,percent\n",
            "material\nwater\n",
            "material,percent,grams\nwater,1,1\n",
            "material,grams\nwater,q.s.\n",
            "material,grams\nwater,0\n",
            "material,percent\nwatr,100\n",
            "material,percent\n" + "watr,1\n" * 2000,
            f"material,percent\n{'w' * 100_000},1\n",
            'material,percent\n"wat\x1ber",100\n',
            'material,percent\n"water,100\n',
            "material;percent\nwater;1,5\ngum;1.5\n",
            "INCI\t%\nNobody\t100\n",
            "material,percent\nwater,nan\n",
            f"material,percent\nwater,{'9' * 5000}\n",
            "material,percent\nwater,100,,,\n",
        )
    )
    return Case(random.choice((EVALUATE, SHEET)), {"today.csv": text}, names="today.csv")


def bad_list(random: Random) -> Case:
    """A price list or a shelf in which something cannot be."""
    text = random.choice(
        (
            "name,price\nwater,1e308\n",
            "name,price\nwater,-1\n",
            "name,price\nwater,\n",
            "name;price\nwater;1.000,5\n",
            "name,price\n,1\n",
            "price\n1\n",
            "name,price,stock_g\nwater,1,1\n",
            "name,stock\nwater,two buckets\n",
            f"name,price\n{'w' * 100_000},dear\n",
            'name,price\n"wat\x1ber",1\n',
            "INCI\tEUR/kg\nAqua\t1,2\t3\n",
            "name,price\n",
        )
    )
    return Case(("library", "match", "list.csv", "--library", "lib"), {"list.csv": text}, names="list.csv")


def bad_answer(random: Random) -> Case:
    """A saved answer that none of ours wrote."""
    deep = random.choice((50, 2000, 200_000))
    line = random.choice(
        (
            '{"material": "water", "percent": NaN}',
            '{"material": "water", "percent": 1e999}',
            '{"material": 7, "percent": 7}',
            "[]",
            "null",
            f'{{"material": "water", "percent": {"9" * 400}}}',
            '{"material": "wat\\u001ber", "percent": 1}',
            '{"material": "\\ud800"}',
            f'{{"material": {"[" * 90}{"]" * 90}, "percent": 5}}',
            f'{{"material": "water", "percent": {"[" * 90}{"]" * 90}}}',
            '{"material": "water", "percent": true}',
            f'{{"material": "{"w" * 5000}", "percent": 5}}',
        )
    )
    text = random.choice(
        (
            f'{{"formulas": [{{"rank": 1, "lines": [{line}]}}]}}',
            f'{{"formulas": [{{"rank": {"9" * 4400}}}]}}',
            "[" * deep + "]" * deep,
            '{"a":' * deep + "1" + "}" * deep,
            '{"formulas": 1}',
            "[]",
            "null",
            "{",
            "",
            '{"formulas": [{"rank": 2, "lines": []}]}',
            ANSWER[: random.randrange(len(ANSWER))],
            '{"formulas": [{"rank": "\\u001b", "lines": []}]}',
        )
    )
    return Case(READERS["answer.json"], {"answer.json": text}, names="answer.json")


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
    text = random.choice(
        (
            PLAN + f"times = {number}\n",
            PLAN.replace("1000.0", number),
            PLAN.replace("4.0", number),
            PLAN.replace('"2kg"', f'"{number}kg"'),
            PLAN.replace("[[make]]", f"spare_percent = {number}\n[[make]]"),
            PLAN.replace("betaine", "betain"),
            PLAN.replace("today", "tody"),
            PLAN + '[[supplier]]\nname = "Nobody"\n',
            PLAN.replace("batch", "bach"),
            'title = "x"\nlibrary = "lib"\n',
        )
    )
    return Case(("shop", "plan.toml"), {"plan.toml": text}, names=".")


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
    bad = random.choice(
        (
            f"title = {'9' * 5000}\n",
            'title = "x"\nprices = "a\\u0000"\n',
            'title = "x"\nlibrary = "' + "b" * 300 + '"\n',
            "title = \n",
            "\x00",
            f"title = {'[' * 5000}\n",
            BRIEF + '[baseline]\nformula = "c\\u0000"\n',
            BRIEF.replace("2.0", "1e308"),
            "[targets]\n",
        )
    )
    keep = {"plan.toml": None, "answer.json": None, "unit.toml": None}
    return Case(
        (*READERS["prices.csv"], "--format", "csv"),
        {
            "brief.toml": None,
            "shop/bad.toml": bad,
            "shop/good.toml": BRIEF.replace('"lib"', '"../lib"'),
            **keep,
        },
        names="good.toml",
    )
