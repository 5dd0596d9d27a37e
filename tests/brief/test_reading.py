"""A brief file becomes a checked value: every key, every default, paths from the brief's folder."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from optiform.brief import brief_from, load_brief
from optiform.brief.models import Aim, Exclude, Include, Ranked, Ratio, Share, Target, Weighing
from optiform.faults import BadInput
from tests.brief.samples import quay_library, wanted

LIBRARY = quay_library()
EVERYTHING = """
title = "Nettle gel wash, oily hair"
product = "rinse-off"
area = "hair"
users = ["under 3"]
law = "UK"
on = 2026-12-31

[aim]
maximise = "mildness"
then = ["ingredients", "cost"]
tie = 0.5

[targets]
"active matter" = { at_least = 8.0, at_most = 9.0 }
mildness = { at_least = 75 }
cost = { at_most = 2.00 }
pH = { at_least = 4.9, at_most = 5.2, set = "bench" }
"substance:Sodium Chloride" = { at_most = 1.5 }
viscosity = { at_least = 400, base = "glucoside base" }

[[include]]
material = "nettle-extract"
at_least = 2.0
at_most = 2.0
[[include]]
function = "humectant"

[[exclude]]
tag = "sulfate"
[[exclude]]
tag = "palm"
unknown = "allow"

[[choose]]
function = "surfactant"
at_least = 2
at_most = 3
[[choose]]
among = ["carbomer", "xanthan-gum"]
at_most = 1

[[share]]
of = "anionic"
at_least = 30
at_most = 65
[[share]]
each = "surfactant"
at_most = 65
[[share]]
of = "tag:gum"
base = "function:thickener"
at_least = 50

[[ratio]]
of = "function:humectant"
to = "xanthan-gum"
at_least = 4

[[needs]]
material = "xanthan-gum"
other = "glycerin"
ratio = 4.0
why = "it clumps"
[[incompatible]]
one = "carbomer"
other = "substance:Sodium Chloride"
[[when]]
material = "carbomer"
measure = "electrolyte"
at_most = 0.2
[[linear]]
name = "acid dose meets acid demand"
terms = [ { measure = "acid demand", times = 1.0 }, { material = "citric-acid", times = -1.0 } ]
at_least = 0.0
at_most = 0.0

[weighing]
batch_g = 250
balance_g = 0.1
error_percent = 5

[certainty]
lots = 0.95
seed = 7

[ranked]
how_many = 3
differ_in = ["surfactant"]
"""


def test_every_key_is_read() -> None:
    import tomllib

    brief = brief_from(tomllib.loads(EVERYTHING), LIBRARY)
    assert (brief.title, brief.area, brief.users, brief.law) == (
        "Nettle gel wash, oily hair",
        "hair",
        ("under 3",),
        "UK",
    )
    assert brief.on == date(2026, 12, 31)
    assert brief.aim == Aim(measure="mildness", sense="maximise", then=("ingredients", "cost"), tie=0.5)
    assert brief.targets["active matter"] == Target(at_least=8.0, at_most=9.0)
    assert brief.targets["pH"].set == "bench"
    assert brief.targets["viscosity"].base == "glucoside base"
    assert brief.include == (
        Include(material="nettle-extract", at_least=2.0, at_most=2.0),
        Include(function="humectant"),
    )
    assert brief.include[1].kind == "function" and brief.include[1].word == "humectant"
    assert brief.exclude == (Exclude(tag="sulfate"), Exclude(tag="palm", unknown="allow"))
    assert [(choose.function, choose.among, choose.at_least, choose.at_most) for choose in brief.choose] == [
        ("surfactant", (), 2, 3),
        (None, ("carbomer", "xanthan-gum"), None, 1),
    ]
    assert brief.share[:2] == (
        Share(of="anionic", at_least=30, at_most=65),
        Share(each="surfactant", at_most=65),
    )
    assert brief.share[2].base == "function:thickener"
    assert brief.ratio == (Ratio(of="function:humectant", to="xanthan-gum", at_least=4),)
    assert brief.rules.needs[0].ratio == 4.0 and brief.rules.needs[0].why == "it clumps"
    assert brief.rules.incompatible[0].other == "substance:Sodium Chloride"
    assert brief.rules.when[0].at_most == 0.2
    assert [term.times for term in brief.rules.linear[0].terms] == [1.0, -1.0]
    assert brief.weighing == Weighing(batch_g=250, balance_g=0.1, error_percent=5)
    assert brief.certainty is not None and (brief.certainty.lots, brief.certainty.seed) == (0.95, 7)
    assert brief.ranked == Ranked(how_many=3, differ_in=("surfactant",))


def test_what_is_not_written_has_its_default() -> None:
    brief = brief_from(wanted(), LIBRARY)
    assert (brief.product, brief.area, brief.users, brief.law) == ("rinse-off", "face", (), "EU")
    assert brief.aim == Aim(measure="cost", sense="minimise", then=(), tie=0.001)
    assert brief.ranked == Ranked(how_many=5, differ_in=("surfactant", "thickener", "preservative"))
    assert brief.on is None
    assert brief.baseline is brief.weighing is brief.certainty is brief.shelf is None
    assert brief.share == brief.ratio == brief.choose == brief.exclude == brief.include == ()
    assert brief.library == LIBRARY and brief.library_name == "tiny"


def test_tables_that_are_begun_have_their_defaults() -> None:
    brief = brief_from(
        wanted(weighing={}, certainty={}, aim={"tie": 0.1}, share=[{"of": "anionic", "at_most": 5}]), LIBRARY
    )
    assert brief.weighing == Weighing(batch_g=1000, balance_g=0.01, error_percent=2)
    assert brief.certainty is not None and (brief.certainty.lots, brief.certainty.seed) == ("all", 1)
    assert brief.aim == Aim(measure="cost", tie=0.1)
    assert brief.share[0].base == "active matter"


def test_an_include_alone_is_enough() -> None:
    assert brief_from({"title": "x", "include": [{"tag": "gum"}]}, LIBRARY).include[0].at_least is None


@pytest.mark.parametrize(
    "of", ["anionic", "betaine", "Decyl Glucoside", "sulfate", "tag:sulfate", "material:betaine"]
)
def test_a_share_may_be_of_a_class_a_material_a_substance_or_a_tag(of: str) -> None:
    assert brief_from(wanted(share=[{"of": of, "at_most": 50}]), LIBRARY).share[0].of == of


def test_a_file_is_read_and_names_itself_in_faults(tmp_path: Path) -> None:
    file = tmp_path / "wash.toml"
    file.write_text('title = "x"\n[targets]\ncost = { at_most = -1 }\n', encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_brief(file)
    (fault,) = caught.value.faults
    assert (fault.file, fault.place) == (str(file), '[targets] "cost", at_most')


def test_without_a_library_the_starter_library_is_meant(tmp_path: Path) -> None:
    file = tmp_path / "wash.toml"
    file.write_text('title = "x"\n[targets]\nmildness = { at_least = 60 }\n', encoding="utf-8")
    brief = load_brief(str(file))
    assert brief.library.water.id == "water"
    assert len(brief.library.materials) > 40


def test_bad_toml_is_a_fault_with_line_and_column(tmp_path: Path) -> None:
    file = tmp_path / "wash.toml"
    file.write_text('title = "x"\n[targets\n', encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_brief(file)
    (fault,) = caught.value.faults
    assert fault.place == "line 2, column 9"
    assert "TOML" in fault.message


def test_a_missing_file_and_a_folder_are_faults(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(BadInput) as caught:
            load_brief(path)
        assert caught.value.faults[0].file == str(path)


def test_faults_of_the_library_and_of_the_brief_come_together(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        brief_from(wanted(library="nowhere", law="XX"), folder=tmp_path, file="wash.toml")
    assert {fault.file for fault in caught.value.faults} == {"wash.toml", str(tmp_path / "nowhere")}


def test_a_window_and_the_base_become_conditions() -> None:
    from optiform.brief.checking import conditions_of

    brief = brief_from(
        wanted(
            targets={
                "pH": {"at_least": 4.9, "at_most": 5.2},
                "viscosity": {"at_least": 400, "base": "glucoside base"},
            }
        ),
        LIBRARY,
    )
    conditions = conditions_of(brief.targets)
    assert (conditions.pH_low, conditions.pH_high, conditions.bench, conditions.base) == (
        4.9,
        5.2,
        False,
        "glucoside base",
    )
