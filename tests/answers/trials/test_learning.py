"""What a bench taught, told as an answer: every form of it, and each sentence where it belongs."""

import json
import math

import pytest

from optiform.answers.trials.learning import learn
from optiform.answers.trials.listing import list_trials
from optiform.cli import main
from optiform.faults import BadInput
from optiform.views.data.json_document import document_of
from tests.trials.benches import bench_at, wash_house

LIBRARY = wash_house()
GUMS = (0.6, 0.8, 1.0, 1.0, 1.0, 1.2, 1.4)


def bench(folder, *, curve=0.0, off=0.0, extra=""):
    """Seven invented washes along the gum, one of them made three times; viscosity and foam were read of each."""
    weighed, readings = "trial,material,grams\n", "trial,measure,value,hours,temperature_C\n"
    for name, gum in enumerate(GUMS, start=1):
        weighed += f"{name},water,{84 - gum}\n{name},glucoside,12\n{name},betaine,4\n{name},gum,{gum}\n"
        log = 1.7 + 1.5 * gum + curve * (gum - 1) ** 2 + 0.02 * math.cos(3 * name) + off
        readings += (
            f"{name},viscosity,{10**log:.0f},20,22\n{name},one phase,{'no' if name == 7 else 'yes'},48,22\n"
        )
    return bench_at(folder, weighed, readings + extra)


def test_the_slope_of_the_gum_is_found_with_its_interval(tmp_path):
    """Written down as 1.5 per 1 %; the seventh wash parted, so six are fitted. 0.1 % more is times 10^0.15 = 1.41."""
    (model,) = learn(bench(tmp_path / "b"), LIBRARY, "viscosity").models
    assert (model.trials, model.repeats) == (6, 2)
    gum = next(term for term in model.terms if term.term == "gum")
    assert gum.low < 1.5 < gum.high
    assert gum.effect_low < 10**0.15 < gum.effect_high
    assert gum.step == 0.1
    assert 0.9 < gum.from_trials < 1.0
    assert [term.term for term in model.terms if term.varied and not term.water] == ["gum"]


def test_repeats_tell_a_curve_that_the_fit_lacks(tmp_path):
    straight = learn(bench(tmp_path / "a"), LIBRARY, "viscosity").models[0].lack_of_fit
    curved = learn(bench(tmp_path / "b", curve=-4.0), LIBRARY, "viscosity").models[0].lack_of_fit
    assert straight.p > 0.05 > curved.p
    assert straight.error_degrees_of_freedom == 2


def test_a_bench_that_disagrees_with_the_library_says_so(tmp_path):
    """Two decades above what any surfactant was expected to bring: the first trial is far outside 95 %."""
    found = learn(bench(tmp_path / "b", off=4.5), LIBRARY, "viscosity").models[0].disagreements
    assert found[0].trial == "1"
    assert found[0].read > found[0].high
    assert found[0].material in ("glucoside", "betaine", "gum", "water")
    assert not learn(bench(tmp_path / "a"), LIBRARY, "viscosity").models[0].disagreements


def test_gates_are_told_and_never_fitted(tmp_path):
    found = learn(bench(tmp_path / "b"), LIBRARY)
    (gate,) = found.gates
    assert (gate.name, gate.failed) == ("one phase", ("7",))
    assert [model.measure for model in found.models] == ["viscosity"]


def test_a_measure_that_nobody_read_is_told_with_the_nearest(tmp_path):
    with pytest.raises(BadInput, match="did you mean 'viscosity'"):
        learn(bench(tmp_path / "b"), LIBRARY, "viscosty")


def test_trials_are_listed_against_the_one_before(tmp_path):
    rows = list_trials(bench(tmp_path / "b", extra="1,viscosity,300,672,45\n"), LIBRARY).trials
    assert rows[0].against == "" and not rows[0].amended
    assert [(item.material, item.before, item.after) for item in rows[1].amended] == [
        ("gum", pytest.approx(0.6), pytest.approx(0.8))
    ]
    assert rows[3].against == "3" and not rows[3].amended
    assert rows[6].parted
    assert [reading.number for reading in rows[0].later] == [300]


@pytest.mark.parametrize("ask", [learn, list_trials])
def test_every_form_says_it(tmp_path, ask):
    found = ask(bench(tmp_path / "b"), LIBRARY)
    text = found.to_text()
    assert len(text.splitlines()) <= 42
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "<table" in found.to_html()
    assert len(found.frame()) > 0
    document = json.loads(found.to_json())
    document_of(document["question"]).model_validate(found)
    assert len(repr(found)) < 2000


def test_a_page_draws_each_fit_with_what_was_read(tmp_path):
    page = learn(bench(tmp_path / "b"), LIBRARY).to_html()
    assert page.count("<svg") == 1
    assert "trial 1 read" in page and "fitted and read" in page


def test_the_document_has_the_keys_that_were_promised(tmp_path):
    document = json.loads(learn(bench(tmp_path / "b"), LIBRARY).to_json())
    (model,) = document["models"]
    assert {"measure", "base", "scale", "terms", "trials", "residual_sd", "degrees_of_freedom", "lack_of_fit", "r2",
            "r2_predicted", "points"} <= set(model)  # fmt: skip
    assert {"term", "prior", "prior_sd", "value", "low", "high", "from_trials"} <= set(model["terms"][0])
    assert {"trial", "read", "fitted", "low", "high", "leverage"} <= set(model["points"][0])
    assert set(model["lack_of_fit"]) == {"F", "p"}


FORMULA = "material,percent\nwater,q.s.\ndecyl-glucoside,12\nxanthan-gum,{gum}\n"


def test_the_commands_record_and_tell(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for gum, value in ((0.8, 900), (1.0, 1900), (1.2, 3800)):
        (tmp_path / "wash.csv").write_text(FORMULA.format(gum=gum))
        words = [
            "trial",
            "add",
            "bench",
            "--formula",
            "wash.csv",
            "--batch",
            "200g",
            "--reading",
            f"viscosity={value}",
        ]
        assert main(words) == 0
    assert "Trial 3 recorded" in capsys.readouterr().out
    assert main(["trial", "add", "bench", "--trial", "3", "--reading", "clear=yes", "--hours", "24"]) == 0
    assert main(["trial", "list", "bench"]) == 0
    told = capsys.readouterr().out
    assert "against 2: xanthan gum 1.00 to 1.20" in told and "yes" in told
    assert main(["trial", "learn", "bench", "--full"]) == 0
    told = capsys.readouterr().out
    assert "Viscosity: decyl glucoside and xanthan gum" in told
    assert main(["trial", "add", "bench", "--trial", "9", "--reading", "clear=yes"]) == 2
    assert "there is no trial '9'" in capsys.readouterr().err
    (tmp_path / "off.csv").write_text("material,percent\nwater,80\ndecyl-glucoside,12\n")
    assert main(["trial", "add", "bench", "--formula", "off.csv"]) == 2
    assert "the percents add up to 92, not to 100" in capsys.readouterr().err


def test_the_python_door_does_the_same(tmp_path):
    import optiform

    folder = tmp_path / "bench"
    wash = {"water": 87.0, "decyl-glucoside": 12.0, "xanthan-gum": 1.0}
    added = optiform.add_trial(folder, wash, {"viscosity": 1900, "clear": "yes"}, batch="200 g")
    assert added.trial.total_g == pytest.approx(200)
    assert optiform.list_trials(folder).measures == ("viscosity", "clear")
    assert optiform.learn(folder).models[0].trials == 1
