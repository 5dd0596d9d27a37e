"""Slips of the pen on the command line and in the files, each told with where it stands and what is meant."""

from __future__ import annotations

import tomllib

import pytest

from tests.fuzz.workshop import BRIEF, FORMULA, PLAN, run, write
from tests.library.on_disk import MATERIALS, SUBSTANCES, TOML


def told(folder, arguments, files=None):
    """Return what a refused command says."""
    write(folder, files or {})
    done = run(folder, arguments)
    assert done.code == 2, done.out + done.err
    return " ".join((done.out + done.err).split())


@pytest.mark.parametrize("word", ["betai", "beta", "bet aine"])
def test_why_suggests_the_material_that_was_begun(tmp_path, word):
    assert "did you mean 'betaine'?" in told(tmp_path, ["why", "brief.toml", word])


def test_a_trade_off_suggests_the_measure_that_was_meant(tmp_path):
    assert "did you mean 'cost'?" in told(tmp_path, ["tradeoff", "brief.toml", "--of", "prize"])


def test_a_rank_needs_an_answer(tmp_path):
    sheet = ["sheet", "today.csv", "--batch", "1kg", "--library", "lib", "--rank", "2"]
    assert "rank 2 of a file that holds one formula" in told(tmp_path, sheet)
    plan = PLAN.replace('batch = "2kg"', 'batch = "2kg"\nrank = 1')
    assert "rank 1 of a file" in told(tmp_path, ["shop", "plan.toml"], {"plan.toml": plan})


@pytest.mark.parametrize(
    "rule",
    [
        '[[ratio]]\nof = "gum"\nto = "material:gum"\nat_least = 1.0\n',
        '[[needs]]\nmaterial = "tag:gum"\nother = "tag:gum"\n',
        '[[incompatible]]\none = "gum"\nother = "gum"\n',
    ],
)
def test_a_rule_sets_no_thing_against_itself(tmp_path, rule):
    said = told(tmp_path, ["check", "brief.toml"], {"brief.toml": BRIEF + rule})
    assert "is set against itself; allowed: two different things" in said
    if not rule.startswith("[[ratio]]"):
        assert "itself" in told(tmp_path, ["library", "check", "lib"], {"lib/library.toml": TOML + rule})


@pytest.mark.parametrize(
    ("row", "old", "new", "place"),
    [
        ("Citric", "3.128;4.761;6.396", "4.761;3.128;6.396", "row 6, column pka: 4.761 stands before 3.128"),
        ("Citric", "6.396,0", "6.396,1e300", "row 6, column charge_acid_form: '1e300' is not allowed"),
        ("Citric", "192.12", "1e-300", "row 6, column molar_mass: '1e-300' is not allowed"),
    ],
)
def test_a_slip_in_the_chemistry_is_named_with_its_cell(tmp_path, row, old, new, place):
    assert row in SUBSTANCES
    text = SUBSTANCES.replace(old, new)
    assert text != SUBSTANCES
    assert place in told(tmp_path, ["check", "brief.toml"], {"lib/substances.csv": text})


def test_a_price_beyond_sense_and_a_counter_ion_without_charge(tmp_path):
    prices = MATERIALS.replace("thickener,14", "thickener,1e300")
    said = told(tmp_path, ["check", "brief.toml"], {"lib/materials.csv": prices})
    assert "row 5, column price: '1e300' is not allowed; allowed: a number from 0 to 1e+09" in said
    header, *rows = SUBSTANCES.splitlines()
    ions = "\n".join([f"{header},strong_ion_charge", *(f"{line},0" for line in rows)]) + "\n"
    said = told(
        tmp_path, ["library", "check", "lib"], {"lib/materials.csv": MATERIALS, "lib/substances.csv": ions}
    )
    assert "row 2, column strong_ion_charge: '0' is not allowed; allowed: a number from 1 to 6" in said


def test_a_library_check_reads_the_limits_and_the_allergens_too(tmp_path):
    limits = "jurisdiction,substances,max_percent\nEU,Aqua,1e300\n"
    allergens = "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent\nMars,a,b,1,1\n"
    said = told(
        tmp_path, ["library", "check", "lib"], {"lib/limits.csv": limits, "lib/allergens.csv": allergens}
    )
    assert "limits.csv, row 2, column max_percent" in said
    assert "allergens.csv, row 2, column jurisdiction: 'Mars' is not known" in said
    assert "2 faults" in said


def test_a_limit_on_what_no_material_holds_is_named(tmp_path):
    write(tmp_path, {"lib/limits.csv": "jurisdiction,substances,max_percent\nEU,Citric Acd;aqua,1\n"})
    done = run(tmp_path, ["library", "check", "lib"])
    assert done.code == 0
    assert "limits.csv: Citric Acd (did you mean Citric Acid?)" in done.out
    assert "limits.csv: aqua" not in done.out


@pytest.mark.parametrize("mark", ["\x1b", "\x07", "\x0b", "\r", "\u202e"])
def test_a_library_refuses_names_that_steer_a_terminal(tmp_path, mark):
    names = MATERIALS.replace("Xanthan gum", f'"Xanthan{mark}gum"')
    said = told(tmp_path, ["check", "brief.toml"], {"lib/materials.csv": names})
    assert "row 5, column name: a control character" in said
    assert mark not in said


@pytest.mark.parametrize(
    "title", ['"', "a\nb = 1\n[x]", "\x1b\x00\x7f", "'''", '"""', "\ud800", "\\", "   ", "# x", "\u2028\x85"]
)
def test_a_starter_brief_parses_whatever_its_title(tmp_path, title):
    write(tmp_path, {})
    done = run(tmp_path, ["start", "--title", title, "--library", "lib", "--out", "new.toml"])
    assert done.code == 0, done.err
    written = tomllib.loads((tmp_path / "new.toml").read_text(encoding="utf-8"))
    assert written["title"] == (title.strip().replace("\ud800", "?") or written["title"])
    assert written["title"].strip()


def test_grams_that_overflow_together_are_no_failure(tmp_path):
    text = "material,grams\nwater,1e308\ngum,1e308\n"
    said = told(tmp_path, ["evaluate", "today.csv", "--library", "lib"], {"today.csv": text})
    assert "row 2, column grams: 1e+308 is out of range; allowed: a number from 0 to 1e+09" in said


def test_one_bad_product_never_stops_the_rest(tmp_path, monkeypatch):
    good = BRIEF.replace('"lib"', '"../lib"')
    write(tmp_path, {
        "brief.toml": None, "plan.toml": None, "unit.toml": None, "shop/good.toml": good,
        "shop/digits.toml": f"title = {'9' * 5000}\n", "shop/nul.toml": 'title = "x"\nprices = "a\\u0000"\n',
        "shop/breaks.csv": FORMULA,
    })  # fmt: skip
    from optiform.answers.recost import folder

    def stumble(path, library):
        raise RuntimeError("a stumble")

    monkeypatch.setattr(folder, "read_formula", stumble)
    command = [
        "recost",
        "shop",
        "--prices",
        "prices.csv",
        "--workers",
        "1",
        "--library",
        "lib",
        "--format",
        "csv",
    ]
    done = run(tmp_path, command)
    rows = {line.split(",")[0]: line for line in done.out.splitlines()}
    assert done.code == 1, "a failure of ours is still said to be one"
    assert ",kept," in rows["good.toml"]
    assert ",fault," in rows["digits.toml"]
    assert ",fault," in rows["nul.toml"]
    assert ",failed," in rows["breaks.csv"]
    assert "a stumble" in done.out


@pytest.mark.parametrize("name", ["=1+1", "@x", "Salt\x1b[2J", "Salt\rx", "-salt"])
def test_a_new_material_has_a_plain_name(tmp_path, name):
    add = ["library", "add", "sea-salt", "--library", "lib", "--function", "salt", "--price", "1"]
    said = told(tmp_path, [*add, f"--name={name}", "--content", "Citric Acid=100"])
    assert "allowed: plain text that begins with none of = + - @" in said
    assert "\x1b" not in said


def test_a_title_of_a_picture_is_no_mathematics(tmp_path):
    write(tmp_path, {"brief.toml": BRIEF.replace("Nettle wash", "Nettle $x^ \\\\frac{ wash")})
    for name in ("curve.svg", "curve.png"):
        curve = ["tradeoff", "brief.toml", "--of", "cost", "--against", "active matter", "--picture", name]
        done = run(tmp_path, curve)
        assert done.code == 0, done.err
        assert (tmp_path / name).stat().st_size > 1000
