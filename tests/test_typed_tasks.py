"""First tasks of a wash-house, typed as a person types them, each within three commands."""

import io
import re
from pathlib import Path

import pytest

from optiform.cli.entry import main
from optiform.cli.materials import asking
from optiform.library import load_library
from optiform.library.formulas import read_formula

PAPER = """\
Ingredient;%
Aqua;q.s.
Decyl Glucoside;12
Cocamidopropyl betaine 38 %;8,5
Xanthan gum;0,6
Glycerin, plant, 99.5 %;3
Sodium benzoate;0,45
Potassium sorbate;0,25
Lactic acid;0,5
"""


@pytest.fixture
def house(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def said(capsys):
    captured = capsys.readouterr()
    return " ".join((captured.out + captured.err).split())


def test_price_my_formula_typed_from_paper_with_names(house, capsys):
    """Which glucoside and which acid is asked first; with that said, cost and names are told."""
    Path("paper.csv").write_text(PAPER)
    assert main(["evaluate", "paper.csv"]) == 2
    asked = said(capsys)
    assert "'Decyl Glucoside' could be 2 materials; allowed: one of decyl-glucoside (" in asked
    assert "'Lactic acid' could be 2 materials" in asked
    chosen = PAPER.replace("Decyl Glucoside", "decyl-glucoside").replace("Lactic acid", "Lactic acid 80%")
    Path("paper.csv").write_text(chosen)
    assert main(["evaluate", "paper.csv"]) == 0
    told = said(capsys)
    assert "'Aqua' as Purified water" in told and "EUR/kg" in told
    assert main(["sheet", "paper.csv", "--batch", "2kg", "--part", "batch"]) == 0
    assert "Decyl glucoside" in said(capsys)


def test_add_my_own_betaine_and_use_it(house, capsys):
    """Cheaper than what it is like, it is in the best formula of a brief that asks for it."""
    words = ["library", "add", "quay-betaine", "--library", "my-library", "--name", "Quay betaine, 30 %",
             "--function", "surfactant", "--price", "0.9", "--content", "cocamidopropyl betaine=30",
             "--salt", "5.5", "--ph-10", "4.5:5.5", "--source", "supplier's sheet"]  # fmt: skip
    assert main(words) == 0
    assert "my-library is new: a copy of the starter library" in said(capsys)
    assert main(["start", "--library", "my-library", "--out", "gel.toml"]) == 0
    with Path("gel.toml").open("a") as brief:
        brief.write('\n[[include]]\nmaterial = "quay-betaine"\n')
    assert main(["design", "gel.toml", "--format", "csv"]) == 0
    assert "1,quay-betaine" in said(capsys)
    assert main([*words[:3], "--library", "my-libary"]) == 2
    assert "did you mean 'my-library'" in said(capsys)


@pytest.mark.slow
def test_design_from_a_skin_and_a_texture(house, capsys):
    """Two commands from nothing to grams on a balance: what `optiform -h` says under "First steps".

    The tutorial types the same two in every run; here its grams are added up.
    """
    assert main(["start", "--for", "oily", "--texture", "gel", "--out", "nettle.toml"]) == 0
    assert main(["design", "nettle.toml"]) == 0
    screen = capsys.readouterr().out
    assert "proven the best" in screen and len(screen.splitlines()) <= 42
    grams = [float(found) for found in re.findall(r" (\d+\.\d\d) +\d+\.\d\d$", screen, re.MULTILINE)]
    assert sum(grams) == pytest.approx(1000.0, abs=0.05)


def test_why_not_ph_6_5_with_this_preservative(house, capsys):
    """Two wishes collide, and a rule of the library says why: of benzoic acid (pKa 4.2) too little works up there.

    At pH 6.5 less than 1 % of it is uncharged: 1 / (1 + 10^2.3) (Henderson and Hasselbalch).
    """
    assert main(["start", "--for", "oily", "--texture", "gel", "--out", "mine.toml"]) == 0
    text = Path("mine.toml").read_text()
    asked = re.sub(r"^pH = .*$", "pH = { at_least = 6.5, at_most = 7.0 }", text, flags=re.MULTILINE)
    assert asked != text
    Path("mine.toml").write_text(asked + '\n[[include]]\nmaterial = "sodium-benzoate"\nat_least = 0.4\n')
    assert main(["design", "mine.toml"]) == 3
    told = said(capsys)
    assert "These cannot hold together pH at least 6.5 sodium benzoate at least 0.4 %" in told
    assert re.search(r"benzoate with sorbate only at a pH from 4\.\d to 4\.\d library", told)
    assert re.search(r"makes it possible asked instead EUR/kg pH at least 6\.5 4\.7 1\.\d\d", told)


@pytest.mark.slow
def test_make_it_cheaper_but_leave_it_if_it_is_not_worth_it(house, capsys):
    """The gain is told with each step; what is worth less than one says is not proposed."""
    chosen = PAPER.replace("Decyl Glucoside", "decyl-glucoside").replace("Lactic acid", "Lactic acid 80%")
    Path("paper.csv").write_text(chosen)
    assert main(["reformulate", "--from", "paper.csv", "--aim", "cheaper", "--write", "cheaper.toml"]) == 0
    told = said(capsys)
    gain = float(re.search(r"paper, cheaper (\d\.\d\d) EUR/kg cheaper", told)[1])
    assert 0.02 < gain < 1.0 and "Step by step; you may stop at any" in told
    brief = Path("cheaper.toml").read_text()
    Path("cheaper.toml").write_text(f"worth = {gain + 0.05:.2f}\n{brief}")
    assert main(["reformulate", "cheaper.toml"]) == 0
    assert "leave it" in said(capsys)


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_new_preservative_is_asked_for_question_by_question(house, capsys, monkeypatch):
    """What is wrong is asked again; what the library knows under a like name is confirmed; nothing is guessed."""
    answers = """Quay preserver, 98 %
preservativ
preservative
9,5
Sodium Benzoat
yes
98

0.4:0.5
4.5:5.2
8:9
sheet of the harbour chemist
"""
    monkeypatch.setattr("sys.stdin", Terminal(answers))
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    assert main(["library", "add", "quay-preserver", "--library", "mine"]) == 0
    told = said(capsys)
    assert "did you mean 'preservative'" in told and "Is it Sodium Benzoate?" in told
    library = load_library("mine")
    assert library.material["quay-preserver"].price == 9.5
    assert library.material["quay-preserver"].source == "sheet of the harbour chemist"
    assert [(part.inci, part.percent) for part in library.composition["quay-preserver"]] == [
        ("Sodium Benzoate", 98.0),
        ("Aqua", 2.0),
    ]
    system = library.systems[-1]
    assert (system.members, system.pH) == ({"quay-preserver": (0.4, 0.5)}, (4.5, 5.2))


def test_whoever_leaves_the_questions_leaves_nothing_behind(house, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("Quay\n"))
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    assert main(["library", "add", "x", "--library", "mine"]) == 2
    assert "Nothing was written" in said(capsys) and not Path("mine").exists()


def test_nothing_is_asked_where_nobody_is(house, capsys):
    assert main(["library", "add", "x", "--library", "mine"]) == 2
    assert re.search(
        r"name: this is missing.*function: this is missing.*price: this is missing", said(capsys)
    )
    assert not Path("mine").exists()


WRITTEN = {
    "evaluate": (),
    "sheet": ("--batch", "1kg"),
    "weigh": ("--batch", "1kg"),
    "lot": ("--material", "cocamidopropyl-betaine-38", "--active", "36"),
    "bench": ("--batch", "1kg", "--add", "glycerin=10g"),
    "swap": ("cocamidopropyl-betaine-38", "cocamidopropyl-betaine-30"),
}


@pytest.mark.parametrize("form", ["csv", "json"])
@pytest.mark.parametrize("command", WRITTEN)
def test_whatever_the_program_wrote_is_a_formula_again(house, capsys, command, form):
    """A whole wash with the surfactant that went in, in every form that a formula leaves in."""
    chosen = PAPER.replace("Decyl Glucoside", "decyl-glucoside").replace("Lactic acid", "Lactic acid 80%")
    Path("paper.csv").write_text(chosen)
    file = f"{command}.{form}"
    assert main([command, "paper.csv", *WRITTEN[command], "--format", form, "--out", file]) == 0
    found = read_formula(file, load_library())
    assert found.total == pytest.approx(100.0, abs=0.005)
    assert found.amounts["decyl-glucoside"] == pytest.approx(12.0, abs=0.2)
    assert found.matched == ()


def test_the_workbook_of_a_record_is_a_formula_again(house):
    chosen = PAPER.replace("Decyl Glucoside", "decyl-glucoside").replace("Lactic acid", "Lactic acid 80%")
    Path("paper.csv").write_text(chosen)
    words = ["sheet", "paper.csv", "--batch", "2kg", "--xlsx", "record.xlsx", "--out", "record.txt"]
    assert main(words) == 0
    found, typed = (read_formula(file, load_library()) for file in ("record.xlsx", "paper.csv"))
    assert found.amounts == pytest.approx(typed.amounts)


def test_a_curve_says_what_to_give_in_its_place(house, capsys):
    Path("curve.json").write_text('{"question": "tradeoff", "curves": []}')
    assert main(["evaluate", "curve.json"]) == 2
    assert "none of them is chosen; allowed: the answer of design" in said(capsys)


def test_one_part_of_a_record_is_a_formula_again(house, capsys):
    Path("paper.csv").write_text("INCI;g\nAqua;90 g\nsodium chloride;0,01 kg\n")
    words = [
        "sheet",
        "paper.csv",
        "--batch",
        "1kg",
        "--part",
        "batch",
        "--format",
        "csv",
        "--out",
        "record.csv",
    ]
    assert main(words) == 0
    assert read_formula("record.csv", load_library()).amounts == {"water": 90.0, "sodium-chloride": 10.0}
