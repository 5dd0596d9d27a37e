"""Briefs for changing a formula: what is held, what goes, and that they read back equal."""

import tomllib

import pytest

from optiform.answers.design import design
from optiform.brief import brief_from, load_brief, reformulation_brief, write_brief
from optiform.faults import BadInput
from optiform.library.formulas import TypedFormula
from optiform.program import held_brief
from tests.answers.rework.today import STARTER_TODAY, starter
from tests.tried import tried

TODAY = TypedFormula("today", STARTER_TODAY, 100.0)


def test_a_cheaper_version_keeps_claim_texture_preservation_strength_and_gentleness():
    keys = reformulation_brief(TODAY, starter(), "cheaper", "today.csv")
    assert keys["aim"] == {"minimise": "cost"}
    baseline = keys["baseline"]
    assert set(baseline["keep"]) == {
        "xanthan-gum",
        "disodium-edta",
        "nettle-extract",
        "sodium-benzoate",
        "potassium-sorbate",
    }
    shares = {f"share:{word}": 10.0 for word in ("anionic", "amphoteric", "nonionic")}
    assert baseline["hold"] == {"active matter": 0.2, "pH": 0.2, "function:humectant": 0.3, **shares}
    assert keys["targets"]["mildness"] == {"at_least": 71.0} and baseline["at_most_new"] == 1


def test_what_the_formula_is_free_from_today_stays_out():
    out = {entry["tag"] for entry in reformulation_brief(TODAY, starter(), "cheaper")["exclude"]}
    assert "silicone" in out and "sulfate" not in out and "palm" not in out


def test_a_gentler_version_may_cost_a_little_more():
    keys = reformulation_brief(TODAY, starter(), "gentler")
    assert keys["aim"]["maximise"] == "mildness"
    cost = sum(starter().material[name].price * percent / 100 for name, percent in STARTER_TODAY)
    assert cost * 1.05 <= keys["targets"]["cost"]["at_most"] <= cost * 1.05 + 0.01


@pytest.mark.parametrize(
    ("words", "entry"),
    [
        ("sulfate", {"tag": "sulfate"}),
        ("cocamidopropyl-betaine-38", {"material": "cocamidopropyl-betaine-38"}),
        ("Glycerin", {"substance": "Glycerin"}),
        ("tag:palm", {"tag": "palm"}),
        ("function:chelator", {"function": "chelator"}),
    ],
)
def test_without_takes_a_tag_a_material_or_a_substance(words, entry):
    keys = reformulation_brief(TODAY, starter(), f"without:{words}")
    assert keys["exclude"][0] == entry


def test_one_surfactant_is_replaced_by_the_same_strength_of_each_charge():
    baseline = reformulation_brief(TODAY, starter(), "without:cocamidopropyl-betaine-38")["baseline"]
    assert {"anionic", "amphoteric", "nonionic", "active matter", "pH"} <= set(baseline["hold"])
    assert "glycerin" in baseline["keep"] and "decyl-glucoside" not in baseline["keep"]
    assert baseline["at_most_new"] == 1 and baseline["at_most_dropped"] == 1


def test_one_thickener_is_replaced_at_the_same_viscosity_where_it_was_tried():
    """A thickener that was tried in one base only, inside its range, keeps its viscosity within a quarter."""
    library = starter()
    bases = {trial.base for trial in library.trials if trial.material == "xanthan-gum"}
    one = tried(library, min(bases))
    target = reformulation_brief(TODAY, one, "without:xanthan-gum")["targets"]["viscosity"]
    assert target["base"] == min(bases) and target["at_most"] / target["at_least"] == pytest.approx(
        1.25**2, rel=0.01
    )


@pytest.mark.parametrize("words", ["xanthan-gum", "Xanthan Gum", "tag:natural-gum"])
def test_a_thickener_whose_viscosity_no_single_base_tells_is_replaced_by_as_much_of_another(words):
    """The starter library tried xanthan in two bases; a pinch of something else would not carry the texture."""
    library = tried(starter(), *{trial.base for trial in starter().trials})
    tagged = tuple(
        m.model_copy(update={"tags": (*m.tags, "natural-gum")}) if m.id == "xanthan-gum" else m
        for m in library.materials
    )
    library = library.model_copy(update={"materials": tagged})
    keys = reformulation_brief(TODAY, library, f"without:{words}")
    assert keys["baseline"]["hold"]["function:thickener"] == pytest.approx(0.06)
    assert "viscosity" not in keys["targets"]


def test_a_cheaper_wash_with_oil_is_still_one_with_oil():
    """Oil and humectant are what the wash is sold for; a saving is made of other oils, not of none."""
    lines = (("water", 68.0), ("decyl-glucoside", 20.0), ("rapeseed-oil", 8.0), ("sweet-almond-oil", 4.0))
    for aim in ("cheaper", "gentler", "without:tag:nut", "without:sweet-almond-oil"):
        baseline = reformulation_brief(TypedFormula("emulsion", lines, 100.0), starter(), aim)["baseline"]
        assert 0.4 <= baseline["hold"]["function:oil"] <= 1.2
        assert "function:surfactant" not in baseline["hold"]
    bare = reformulation_brief(TypedFormula("emulsion", lines, 100.0), starter(), "without:function:oil")
    assert "function:oil" not in bare["baseline"]["hold"]


def test_a_formula_that_is_nothing_but_zeros_still_gives_a_brief():
    keys = reformulation_brief(TypedFormula("none", (("water", 0.0),), 0.0), starter(), "cheaper")
    assert keys["baseline"]["keep"] == []


def changed(**amounts):
    lines = {**dict(STARTER_TODAY), **amounts}
    lines["water"] = 100.0 - sum(value for name, value in lines.items() if name != "water")
    return TypedFormula("today", tuple((name, value) for name, value in lines.items() if value), 100.0)


@pytest.mark.parametrize(
    "amounts",
    [
        {"sodium-benzoate": 0.0, "potassium-sorbate": 0.0},
        {"sodium-benzoate": 0.2},
        {"sodium-benzoate": 0.9},
        {"phenoxyethanol": 0.9},
    ],
    ids=str,
)
def test_a_preservation_that_is_not_complete_is_not_kept_as_it_is(amounts, tmp_path):
    """Kept to the gram it could never be put right, and the answer would be a conflict."""
    typed = changed(**amounts)
    keys = reformulation_brief(typed, starter(), "cheaper", "today.csv")
    assert not {"sodium-benzoate", "potassium-sorbate", "phenoxyethanol"} & set(keys["baseline"]["keep"])
    (tmp_path / "today.csv").write_text("material,percent\n" + "\n".join(f"{n},{v}" for n, v in typed.lines))
    brief = held_brief(brief_from({**keys, "ranked": {"how_many": 1}}, starter(), tmp_path))
    answer = design(brief)
    assert answer.status == "solved" and answer.formulas[0].system


@pytest.mark.parametrize(("percent", "right"), [(0.1, 0.3), (1.5, 1.2)])
def test_what_is_kept_is_kept_inside_its_use_range(percent, right, tmp_path):
    """Xanthan is used from 0.3 to 1.2 %: a pinch or a heap of it is put right by the smallest change."""
    typed = changed(**{"xanthan-gum": percent, "glycerin": 5.0})
    keys = reformulation_brief(typed, starter(), "cheaper", "today.csv")
    assert "xanthan-gum" not in keys["baseline"]["keep"]
    assert "function:thickener" not in keys["baseline"]["hold"]
    assert {"material": "xanthan-gum", "at_least": right, "at_most": right} in keys["include"]
    (tmp_path / "today.csv").write_text("material,percent\n" + "\n".join(f"{n},{v}" for n, v in typed.lines))
    answer = design(held_brief(brief_from({**keys, "ranked": {"how_many": 1}}, starter(), tmp_path)))
    amounts = {line.material: line.percent for line in answer.formulas[0].lines}
    assert amounts["xanthan-gum"] == pytest.approx(right)


def test_too_much_of_what_is_not_kept_may_come_back_into_its_range():
    keys = reformulation_brief(changed(glycerin=40.0), starter(), "cheaper")
    assert keys["baseline"]["hold"]["function:humectant"] == pytest.approx(15.0)


@pytest.mark.parametrize(("acid", "window"), [(0.28, None), (0.05, (4.3, 4.7)), (2.0, (4.3, 4.7))])
def test_a_ph_at_which_the_preservative_fails_is_brought_into_its_window(acid, window):
    """Benzoate with sorbate works from pH 4 to 5 less 0.3 at both ends; a wash at pH 3 or 9 is put right, not held."""
    lines = {**dict(STARTER_TODAY), "citric-acid": acid, "water": 71.6 - acid}
    typed = TypedFormula("today", tuple(lines.items()), 100.0)
    keys = reformulation_brief(typed, starter(), "cheaper")
    if window is None:
        assert "pH" in keys["baseline"]["hold"] and "pH" not in keys["targets"]
    else:
        assert "pH" not in keys["baseline"]["hold"]
        assert keys["targets"]["pH"] == {"at_least": window[0], "at_most": window[1]}


@pytest.mark.parametrize(("acid", "held"), [(0.0, False), (0.12, True)])
def test_a_ph_at_which_no_wash_may_stand_is_not_held_whatever_surfactant_comes(acid, held):
    """Glucoside alone is alkaline; no rule names it, but every surfactant is held between pH 4 and 8."""
    lines = (("water", 88.22 - acid), ("decyl-glucoside", 10.9), ("phenoxyethanol", 0.8),
             ("ethylhexylglycerin", 0.08), ("citric-acid", acid))  # fmt: skip
    keys = reformulation_brief(TypedFormula("today", lines, 100.0), starter(), "gentler")
    assert ("pH" in keys["baseline"]["hold"]) is held
    assert keys["targets"].get("pH") == (None if held else {"at_least": 7.6, "at_most": 8.0})


def test_a_soap_keeps_its_ph():
    lines = (("water", 68.9), ("potassium-cocoate", 30.0), ("tetrasodium-glutamate-diacetate", 0.2),
             ("phenoxyethanol", 0.8), ("ethylhexylglycerin", 0.1))  # fmt: skip
    keys = reformulation_brief(TypedFormula("soap", lines, 100.0), starter(), "cheaper")
    assert keys["baseline"]["hold"]["pH"] == 0.2 and "pH" not in keys["targets"]


def test_what_has_no_mildness_cannot_become_gentler():
    with pytest.raises(BadInput, match="surfactant whose mildness is known"):
        reformulation_brief(TypedFormula("oil", (("rapeseed-oil", 100.0),), 100.0), starter(), "gentler")


def test_a_formula_without_any_thickener_holds_no_amount_of_it():
    keys = reformulation_brief(TODAY, starter(), "without:function:thickener")
    assert "function:thickener" not in keys["baseline"]["hold"]


def test_a_list_of_113_percent_is_a_formula_to_start_from(tmp_path):
    """Its natural origin is 110 % as typed; a floor above 100 % could not even be written down."""
    heavy = tuple((name, 85.35 if name == "water" else value) for name, value in STARTER_TODAY)
    (tmp_path / "today.csv").write_text("material,percent\n" + "\n".join(f"{n},{v}" for n, v in heavy))
    keys = reformulation_brief(TypedFormula("today", heavy, 114.0), starter(), "cheaper", "today.csv")
    assert keys["targets"]["natural origin"] == {"at_least": 97.0}
    assert brief_from(keys, starter(), tmp_path).baseline is not None


@pytest.mark.parametrize(
    "aim", ["cheaper", "gentler", "without:sulfate", "without:xanthan-gum", "without:sodium-benzoate"]
)
def test_the_written_brief_reads_back_equal_and_is_right(aim, tmp_path):
    (tmp_path / "today.csv").write_text(
        "material,percent\n" + "\n".join(f"{n},{v}" for n, v in STARTER_TODAY)
    )
    keys = reformulation_brief(TODAY, starter(), aim, "today.csv")
    text = write_brief(keys)
    assert tomllib.loads(text) == keys
    (tmp_path / "new.toml").write_text(text)
    brief = load_brief(tmp_path / "new.toml")
    assert dict(brief.baseline.lines) == pytest.approx(dict(STARTER_TODAY))
    assert brief_from(keys, starter(), tmp_path).targets == brief.targets


@pytest.mark.parametrize(
    ("aim", "words"),
    [
        ("cheeper", "did you mean 'cheaper'"),
        ("without:sulphate", "did you mean 'sulfate'"),
        ("without:tag:sulphate", "sulfate"),
    ],
)
def test_an_aim_that_is_none_is_named_with_the_nearest(aim, words):
    with pytest.raises(BadInput, match=words):
        reformulation_brief(TODAY, starter(), aim)


def test_a_formula_of_unknown_charge_leaves_the_ph_to_the_bench():
    library = starter()
    bare = {"pka": (), "charge_acid_form": None, "strong_charge": None}
    unknown = tuple(
        s.model_copy(update=bare) if s.inci == "Urtica Dioica Leaf Extract" else s for s in library.substances
    )
    keys = reformulation_brief(TODAY, library.model_copy(update={"substances": unknown}), "cheaper")
    assert keys["targets"]["pH"]["set"] == "bench" and "pH" not in keys["baseline"]["hold"]
