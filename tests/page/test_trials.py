"""Trials on the page: readings kept as they are typed, each fault in its field, a wash weighed, the next planned."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from optiform import list_trials
from tests.page.bench import BRIEF, Bench, values_of

EVENINGS = Path(__file__).parents[2] / "problems" / "three-evenings"
HERE = "/trial/evenings"
FORMULA = "material,grams\nwater,70\ndecyl-glucoside,24\nglycerin,6\n"


@pytest.fixture
def evenings(bench):
    """The bench of the three evenings, every reading of it invented."""
    for file in (EVENINGS / "bench").glob("*.csv"):
        bench.write(f"evenings/{file.name}", file.read_text(encoding="utf-8"))
    return bench


def typed(bench: Bench, field: str, value: str):
    """Leave a field as a script sends it."""
    return bench.post(
        HERE, {"trial": "1", field: value, "other": "typed elsewhere"},
        **{"hx-request": "true", "hx-trigger-name": field},
    )  # fmt: skip


def faults(page: str) -> list[str]:
    return [text.strip() for text in re.findall(r'class="wrong"[^>]*>([^<]+)', page) if text.strip()]


def readings(bench: Bench) -> str:
    return bench.text("evenings/readings.csv")


def test_what_is_typed_is_kept_and_reaches_the_bench_only_when_asked(evenings):
    before = readings(evenings)
    assert "1 to add" in typed(evenings, "value pH", "5,1").text
    typed(evenings, "hours", "20")
    page = evenings.get(f"{HERE}?trial=1").text
    assert values_of(page, "value pH") == ["5,1"] and values_of(page, "other") == [""]
    assert values_of(page, "instrument pH") == ["meter"], "as it was read last"
    assert readings(evenings) == before

    fields = {name: values_of(page, name)[0] for name in ("value pH", "hours", "instrument pH")}
    assert evenings.post(HERE, {"trial": "1", "add": "yes", **fields}).status == 303
    assert readings(evenings) == before.replace("\r\n", "\n") + "1,pH,5.1,,,20,,meter,,\n"
    assert values_of(evenings.get(f"{HERE}?trial=1").text, "value pH") == [""]


def take_back(bench: Bench, name: str = "evenings") -> str:
    """Press the button of the bench that takes back, where there is one; return what it is called."""
    page = bench.get(f"/trials/{name}").text
    button = re.search(r'name="version" value="(\w+)".*?>Take back ([^<]*)<', page, re.DOTALL)
    if button is None:
        return ""
    bench.post(f"/trials/{name}", {"version": button[1]})
    return button[2]


def test_readings_are_taken_back_unless_somebody_else_wrote_since(evenings):
    before = readings(evenings)
    evenings.post(HERE, {"trial": "1", "add": "yes", "value foam": "86"})
    ours = readings(evenings)
    evenings.write("evenings/readings.csv", ours + "2,foam,98,,,,,,,\n")
    assert take_back(evenings) == ""
    evenings.write("evenings/readings.csv", ours)
    assert take_back(evenings) == "the last readings of trial 1"
    assert readings(evenings) == before
    assert values_of(evenings.get(f"{HERE}?trial=1").text, "value foam") == ["86"], (
        "to be corrected, not typed again"
    )


def test_what_was_added_is_taken_back_one_after_the_other(evenings):
    """A trial and its readings; the last first, so that no reading is left without its trial."""
    files = [evenings.text(f"evenings/{name}.csv") for name in ("weighed", "readings")]
    evenings.write("f.csv", FORMULA)
    weighed = {
        "bench": "evenings",
        "add": "yes",
        "batch": "100g",
        "grams water": "76,5",
        "grams glycerin": "24",
    }
    evenings.post("/weigh/f.csv", weighed)
    evenings.post(HERE, {"trial": "10", "add": "yes", "value pH": "5,1"})
    assert [take_back(evenings) for _ in range(3)] == ["the last readings of trial 10", "trial 10", ""]
    assert [evenings.text(f"evenings/{name}.csv") for name in ("weighed", "readings")] == files
    assert values_of(evenings.get("/weigh/f.csv?batch=100g").text, "grams water") == ["76,5"]


def test_a_button_that_is_pressed_twice_takes_back_once(evenings):
    for value in ("86", "87"):
        evenings.post(HERE, {"trial": "1", "add": "yes", "value foam": value})
    page = evenings.get("/trials/evenings").text
    (version,) = values_of(page, "version")
    for _ in range(2):
        evenings.post("/trials/evenings", {"version": version})
    assert "1,foam,86" in readings(evenings) and "1,foam,87" not in readings(evenings)


def test_the_first_trial_of_a_bench_is_taken_back_with_its_file(bench):
    bench.write("f.csv", FORMULA)
    bench.post("/weigh/f.csv", {"bench": "quay", "add": "yes", "batch": "100g", "grams water": "76,5"})
    (version,) = values_of(bench.get("/trials/quay").text, "version")
    assert bench.post("/trials/quay", {"version": version}).place == "/"
    assert not (bench.root / "quay" / "weighed.csv").exists()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("value pH", "51", "a pH of 51 is not allowed; a number from 0 to 14"),
        ("value viscosity", "3,200", "may be 3200 or 3.200"),
        ("value viscosity", "3.2 Pa.s", "has a unit in it"),
        ("value foam", "a lot", "is not a number"),
        ("hours", "soon", "is no number from 0 to"),
        ("temperature_C", "400", "is no number from -50 to 150 C"),
    ],
)
def test_every_fault_stands_in_its_field(evenings, field, value, said):
    before = readings(evenings)
    (told,) = faults(typed(evenings, field, value).text)
    assert said in told.replace("&#39;", "'")
    answer = evenings.post(HERE, {"trial": "1", "add": "yes", field: value, "value feel": "3"})
    assert answer.status == 422 and len(faults(answer.text)) == 1
    assert readings(evenings) == before


def test_a_figure_that_the_others_do_not_predict_is_asked_about_until_it_is_said_to_be_right(evenings):
    """Trial 1 reads 190 mPa.s: 1900 is a slip of a digit, as the command line asks as well."""
    (told,) = faults(typed(evenings, "value viscosity", "1900").text)
    assert "Was 190 meant?" in told
    assert evenings.post(HERE, {"trial": "1", "add": "yes", "value viscosity": "1900"}).status == 422
    assert faults(typed(evenings, "right viscosity", "1900").text) == []
    fields = {"trial": "1", "add": "yes", "value viscosity": "1900", "right viscosity": "1900"}
    assert evenings.post(HERE, fields).status == 303
    assert re.search(r"^1,viscosity,1900,.*,yes$", readings(evenings), re.MULTILINE)


def test_a_parent_has_its_trials_under_it(evenings):
    evenings.write("f.csv", FORMULA)
    for parent in ("2", "10"):
        fields = {"bench": "evenings", "parent": parent, "add": "yes", "batch": "100g", "grams water": "76,5",
                  "grams decyl-glucoside": "24"}  # fmt: skip
        assert evenings.post("/weigh/f.csv", fields).status == 303
    page = evenings.get("/trials/evenings").text
    tree = page[page.index('aria-label="Trials"') : page.index("</nav>", page.index('aria-label="Trials"'))]
    inside = re.search(r"Trial 2</a>.*?<ul class=\"tree\">(.*?)Trial 3</a>", tree, re.DOTALL)
    assert inside and inside.group(1).index("Trial 10<") < inside.group(1).index("Trial 11<")


def test_a_wash_is_weighed_into_a_bench_that_is_made_for_it(bench):
    bench.write("f.csv", FORMULA)
    page = bench.get("/weigh/f.csv").text
    assert values_of(page, "grams water") == ["70.00"] and values_of(page, "bench") == ["bench"]
    sent = {"hx-request": "true", "hx-trigger-name": "grams water"}
    assert (
        "1 to look at again"
        in bench.post("/weigh/f.csv", {"grams water": "7o", "batch": "200g"}, **sent).text
    )
    bench.post("/weigh/f.csv", {"grams water": "70,4", "batch": "200g"}, **sent)
    assert values_of(bench.get("/weigh/f.csv").text, "grams water") == ["70,4"], "kept while it is typed"
    fields = {"batch": "200g", "grams water": "70,4", "grams decyl-glucoside": "24.1", "grams glycerin": "0"}
    answer = bench.post("/weigh/f.csv", {**fields, "bench": "quay", "date": "2026-11-02", "add": "yes"})
    assert answer.place == "/trials/quay"
    (trial,) = list_trials(bench.root / "quay").trials
    assert (trial.name, trial.date, round(trial.total_g, 2)) == ("1", "2026-11-02", 94.5)


@pytest.mark.parametrize(
    "wrong",
    [
        {"grams water": "x"},
        {"grams water": "1,660"},
        {"parent": "7"},
        {"bench": "f.csv"},
        {"grams water": "", "grams glycerin": ""},
    ],  # "1,660" may be 1660 or 1.660
)
def test_a_wash_with_a_fault_is_no_trial(bench, wrong):
    bench.write("f.csv", "material,grams\nwater,70\nglycerin,6\n")
    fields = {
        "grams water": "70",
        "grams glycerin": "6",
        "bench": "quay",
        "add": "yes",
        "batch": "200g",
        **wrong,
    }
    assert bench.post("/weigh/f.csv", fields).status in (404, 422)
    assert not (bench.root / "quay").exists()


@pytest.mark.parametrize("name", ["../out", "/etc", ".hidden", "a\\b"])
def test_no_bench_is_made_outside(bench, name):
    bench.write("f.csv", FORMULA)
    fields = {"grams water": "70", "bench": name, "add": "yes", "batch": "200g"}
    assert bench.post("/weigh/f.csv", fields).status == 404
    assert sorted(path.name for path in bench.root.iterdir() if not path.name.startswith(".")) == ["f.csv"]


@pytest.mark.slow
def test_planned_trials_and_the_next_are_weighed_by_a_button(evenings):
    for name in ("first", "nettle"):
        text = (EVENINGS / f"{name}.toml").read_text(encoding="utf-8")
        evenings.write(f"{name}.toml", text.replace('"bench"', '"evenings"').replace("bench =", "bench =", 1))
    planned = evenings.get("/trial-plan/first.toml?trials=4").text
    assert values_of(planned, "rank") == ["1", "2", "3", "4"]
    answer = evenings.post(
        "/planned/first.toml", {"planned": "yes", "trials": "4", "measure": "viscosity", "rank": "2"}
    )
    assert answer.place.startswith("/weigh/planned/first-trial-2.csv")
    assert "evening" in values_of(evenings.get(answer.place).text, "block")[0]
    following = evenings.get("/trial-next/nettle.toml").text
    assert values_of(following, "rank") == ["1"] and "optiform trial" not in following
    answer = evenings.post("/planned/nettle.toml", {"rank": "1"})
    assert answer.place.startswith("/weigh/planned/nettle-trial-1.csv")
    assert evenings.get(answer.place).status == 200


def test_what_is_chosen_leads_to_its_page(evenings):
    evenings.write("a.toml", BRIEF)
    assert evenings.get("/trial-ask?what=plan&name=a.toml").place == "/trial-plan/a.toml"
    assert evenings.get("/trial-ask?what=away&name=a.toml").status == 404


def filled(bench: Bench, **weights: str) -> str:
    """Begin a batch record of 100 g and fill in what was weighed; return its place."""
    bench.write("f.csv", "material,percent\nwater,70\ndecyl-glucoside,24\nglycerin,6\n")
    place = bench.post("/begin/f.csv", {"batch": "100g"}).place
    fields = {f"weigh/{material}/actual": grams for material, grams in weights.items()}
    bench.post(place, {**fields, **{f"was {name}": "" for name in fields}})
    return place


def test_a_filled_batch_record_is_a_trial_by_one_button(bench):
    """Held against the file of the bench: the grams that stand in the record, not those that were wanted."""
    place = filled(bench, water="70,2", **{"decyl-glucoside": "24.1"})
    last = {"weigh/glycerin/actual": "6.05", "was weigh/glycerin/actual": ""}
    answer = bench.post(place.replace("/batch/", "/made/"), {"bench": "bench", **last})
    assert answer.place == "/trials/bench"
    rows = [line.split(",")[5:7] for line in bench.text("bench/weighed.csv").splitlines()[1:]]
    assert sorted(rows) == [["decyl-glucoside", "24.1"], ["glycerin", "6.05"], ["water", "70.2"]]
    assert take_back(bench, "bench") == "trial 1" and not list((bench.root / "bench").iterdir())
    assert bench.post(place.replace("/batch/", "/made/"), {"bench": "bench"}).status == 303
    again = bench.post(place.replace("/batch/", "/made/"), {"bench": "bench"})
    assert again.status == 422, "the same record twice is one trial"


def test_what_keeps_a_record_from_being_a_trial_is_told_and_asked(bench):
    place = filled(bench, water="702", **{"decyl-glucoside": "24.1", "glycerin": "6"})
    made = place.replace("/batch/", "/made/")
    answer = bench.post(made, {"bench": "bench"})
    assert answer.status == 422 and "702 g instead of 70" in answer.text and "--checked" not in answer.text
    assert not (bench.root / "bench").exists()
    assert bench.post(made, {"bench": "bench", "right": "yes"}).status == 303
    (trial,) = list_trials(bench.root / "bench").trials
    assert trial.total_g == pytest.approx(732.1)
