"""The commands `sheet` and `shop`: exit codes, forms, faults all at once, a saved answer as formula."""

import json

import pytest
from openpyxl import load_workbook

from optiform.cli import main

GEL = "material,percent\nwater,q.s.\nglycerin,4\nxanthan-gum,0.8\nsodium-benzoate,0.5\ncocamidopropyl-betaine-30,25\n"


@pytest.fixture
def desk(tmp_path, monkeypatch):
    (tmp_path / "gel.csv").write_text(GEL)
    (tmp_path / "bottle.toml").write_text("[unit]\ncontents_ml = 200\n")
    (tmp_path / "spring.toml").write_text('title = "Spring"\n[[make]]\nformula = "gel.csv"\nbatch = "5kg"\n')
    monkeypatch.chdir(tmp_path)
    return tmp_path


PARTS, ALL_FORMS = ["batch", "label", "cost", "shopping"], ["text", "json", "csv", "md", "html"]


@pytest.mark.parametrize(
    ("part", "form"),
    [*(("all", form) for form in ALL_FORMS), *zip(PARTS, ["json", "json", "csv", "csv"], strict=True)],
)
def test_every_part_in_every_form(desk, capsys, part, form):
    words = ["sheet", "gel.csv", "--batch", "2kg", "--unit", "bottle.toml", "--part", part, "--format", form]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert len(out) > 100
    if form == "json":
        assert [
            name for name in ("batch", "label", "cost", "shopping") if json.loads(out)["sheet"][name]
        ] == (["batch", "label", "cost", "shopping"] if part == "all" else [part])


def test_a_workbook_beside_the_result(desk, capsys):
    assert main(["sheet", "gel.csv", "--batch", "2kg", "--xlsx", "gel.xlsx", "--format", "csv"]) == 0
    captured = capsys.readouterr()
    assert "Wrote gel.xlsx." in captured.err
    assert "goggles" in captured.err
    assert load_workbook("gel.xlsx").sheetnames == ["Weigh", "Record", "Label", "Shopping", "formula"]
    assert main(["sheet", "gel.csv", "--batch", "2kg", "--xlsx", "gel.xlsx"]) == 2
    assert "--xlsx" in capsys.readouterr().err
    assert main(["shop", "spring.toml", "--xlsx", "spring.xlsx"]) == 0
    assert load_workbook("spring.xlsx").sheetnames == ["Shopping"]


def test_every_fault_of_the_call_at_once(desk, capsys):
    (desk / "off.csv").write_text("material,percent\nwater,90\n")
    (desk / "bad.toml").write_text("[unit]\ncontents = 3\n")
    assert main(["sheet", "off.csv", "--batch", "much", "--unit", "bad.toml"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    for words in ("'much' is no mass", "contents: unknown key", "add up to 90 %"):
        assert words in captured.err


@pytest.mark.parametrize(
    "words",
    [
        ["sheet", "gel.csv"],
        ["sheet", "none.csv", "--batch", "2kg"],
        ["sheet", "gel.csv", "--batch", "2kg", "--brief", "none.toml"],
        ["sheet", "gel.csv", "--batch", "2kg", "--brief", "x.toml", "--library", "y"],
        ["sheet", "gel.csv", "--batch", "2kg", "--part", "cost"],
        ["sheet", "gel.csv", "--batch", "2kg", "--balance", "0g"],
        ["sheet", "gel.csv", "--batch", "2kg", "--balance", "0.01"],
        ["sheet", "gel.csv", "--batch", "50g", "--unit", "bottle.toml"],
        ["shop", "none.toml"],
        ["shop", "gel.csv"],
    ],
)
def test_bad_input_ends_with_2(desk, capsys, words):
    assert main(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.strip()
    assert "Traceback" not in captured.err


def test_a_ranked_formula_of_a_saved_answer_is_made(desk, capsys):
    lines = [
        {"material": "water", "percent": 76.0},
        {"material": "cocamidopropyl-betaine-30", "percent": 24.0},
    ]
    answer = {"brief": {"title": "Gel"}, "formulas": [{"rank": 2, "lines": lines}]}
    (desk / "answer.json").write_text(json.dumps(answer))
    words = ["sheet", "answer.json", "--rank", "2", "--batch", "1kg", "--format", "json", "--part", "batch"]
    assert main(words) == 0
    read = json.loads(capsys.readouterr().out)
    assert {line["material"]: line["grams"] for line in read["sheet"]["batch"]["batch"]["lines"]} == {
        "water": 760.0,
        "cocamidopropyl-betaine-30": 240.0,
    }
    assert main(["sheet", "answer.json", "--batch", "1kg"]) == 2


def test_a_brief_brings_its_targets_and_law(desk, capsys):
    (desk / "wash.toml").write_text(
        'title = "Nettle gel"\nlaw = "US"\n[targets]\npH = { at_least = 4.5, at_most = 5.2 }\n"active matter" = '
        "{ at_least = 20 }\n[weighing]\nbalance_g = 0.1\n"
    )
    assert main(["sheet", "gel.csv", "--batch", "2kg", "--brief", "wash.toml", "--full"]) == 0
    out = capsys.readouterr().out
    assert "on a balance of 0.1 g" in out
    assert "4.5 to 5.2" in out
    assert "21 CFR 701.3" in out
    assert "active matter at least 20" in out


def test_the_same_bytes_on_every_run(desk, capsys):
    outs = []
    for number in range(2):
        assert (
            main(["sheet", "gel.csv", "--batch", "2kg", "--format", "json", "--xlsx", f"{number}.xlsx"]) == 0
        )
        outs.append((capsys.readouterr().out, (desk / f"{number}.xlsx").read_bytes()))
    assert outs[0] == outs[1]
