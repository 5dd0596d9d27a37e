"""library.toml: unknown keys, wrong values and broken files, each with its place."""

import pytest

from optiform.library import load_library
from optiform.library.models import Trust
from tests.library.on_disk import MATERIALS, SUBSTANCES, TOML, faults_in, only_fault, write_folder

FULL = """
name = "Quay"
currency = "GBP"
[trust]
price = "invented"
[[measure]]
name = "acid demand"
column = "acid_demand"
unit = "% w/w"
basis = "total"
better = "lower"
[[system]]
name = "acid alone"
members = { acid = [0.4, 0.5] }
pH = [4.5, 5.2]
[[needs]]
material = "gum"
other = "nettle"
ratio = 4
[[incompatible]]
one = "tag:gum"
other = "betaine"
why = "they curdle"
[[when]]
material = "gum"
measure = "electrolyte"
at_most = 0.2
[[linear]]
name = "acid meets demand"
terms = [ { measure = "acid demand" }, { material = "acid", times = -1.0 } ]
at_least = 0.0
at_most = 0.0
"""


def with_demand(text=MATERIALS):
    header, *rows = text.splitlines()
    return "\n".join([header + ",acid_demand", *(row + ",0.1" for row in rows)])


def test_everything_that_a_library_may_state(tmp_path):
    library = load_library(write_folder(tmp_path, toml=FULL, materials=with_demand()))
    assert (library.name, library.currency) == ("Quay", "GBP")
    assert library.trust == {"price": Trust.INVENTED}
    assert library.material["gum"].extra == {"acid_demand": 0.1}
    assert library.systems[0].members == {"acid": (0.4, 0.5)}
    assert library.systems[0].pH == (4.5, 5.2)
    assert library.rules.needs[0].ratio == 4.0
    assert library.rules.linear[0].terms[0].times == 1.0


@pytest.mark.parametrize(
    ("pH", "expected"),
    [
        ("{ at_most = 5.2 }", (None, 5.2)),
        ("{ at_least = 4.5 }", (4.5, None)),
        ('["", 5.2]', (None, 5.2)),
        ("[4.5, inf]", (4.5, None)),
    ],
)
def test_either_end_of_a_pH_window_may_be_left_out(tmp_path, pH, expected):
    library = load_library(
        write_folder(tmp_path, toml=FULL.replace("[4.5, 5.2]", pH), materials=with_demand())
    )
    assert library.systems[0].pH == expected


@pytest.mark.parametrize(
    ("old", "new", "place", "message", "nearest"),
    [
        ('currency = "GBP"', 'curency = "GBP"', "key curency", "unknown key", "currency"),
        ("unit =", "units =", "[[measure]] 1 (acid demand), key units", "unknown key", "unit"),
        ("ratio = 4", "ration = 4", "[[needs]] 1, key ration", "unknown key", "ratio"),
        ("times = -1.0", "time = -1.0", "[[linear]] 1 (acid meets demand), key terms, entry 2, key time",
         "unknown key", "times"),
        ('"invented"', '"invnted"', "[trust], key price", "'invnted' is not known", "invented"),
        ('better = "lower"', 'better = "low"', "[[measure]] 1 (acid demand), key better",
         "'low' is not known", "lower"),
    ],
)  # fmt: skip
def test_unknown_keys_and_words_name_their_place_and_the_nearest(tmp_path, old, new, place, message, nearest):
    fault = only_fault(write_folder(tmp_path, toml=FULL.replace(old, new), materials=with_demand()))
    assert (fault.place, fault.message, fault.nearest) == (place, message, nearest)
    assert fault.file.endswith("library.toml")


@pytest.mark.parametrize(
    ("old", "new", "place", "allowed"),
    [
        ("ratio = 4", "ratio = 0", "[[needs]] 1, key ratio", "a number above 0"),
        ("ratio = 4", 'ratio = "four"', "[[needs]] 1, key ratio", "a number"),
        ("ratio = 4", "ratio = true", "[[needs]] 1, key ratio", "a number or a text"),
        ("ratio = 4", "ratio = nan", "[[needs]] 1, key ratio", "a finite number"),
        ('other = "nettle"', "other = 3", "[[needs]] 1, key other", "a text in quotes"),
        ("[0.4, 0.5]", "[0.4]", "[[system]] 1 (acid alone), key members, key acid, entry 2", ""),
        ('name = "Quay"', "", "key name", ""),
        ('[[when]]\nmaterial = "gum"', "[[when]]", "[[when]] 1, key material", ""),
        ("[[system]]", "[system]", "[system]", "a list of tables, each begun with [[system]]"),
    ],
)
def test_values_that_are_not_allowed(tmp_path, old, new, place, allowed):
    fault = only_fault(write_folder(tmp_path, toml=FULL.replace(old, new), materials=with_demand()))
    assert (fault.place, fault.allowed) == (place, allowed)


def test_broken_toml_names_the_line(tmp_path):
    fault = only_fault(write_folder(tmp_path, toml='name = "Quay"\ncurrency = \n'))
    assert fault.place.startswith("line 2")
    assert "not valid TOML" in fault.message


def test_toml_in_another_encoding(tmp_path):
    fault = only_fault(write_folder(tmp_path, toml='name = "Quay"\n# pr\xe9\n'.encode("cp1252")))
    assert (fault.place, fault.message) == ("line 2", "byte 0xE9 is not UTF-8")


def test_all_faults_of_the_file_at_once(tmp_path):
    text = (
        FULL.replace("ratio = 4", "ratio = 0")
        .replace("unit =", "units =")
        .replace('one = "tag:gum"', 'one = "tag:gm"')
    )
    assert [
        fault.place for fault in faults_in(write_folder(tmp_path, toml=text, materials=with_demand()))
    ] == [
        "[[measure]] 1 (acid demand), key units",
        "[[needs]] 1, key ratio",
        "[[incompatible]] 1, key one",
    ]


def test_column_of_a_measure_may_be_a_known_one_and_may_stand_in_substances(tmp_path):
    toml = TOML + '[[measure]]\nname = "mean size"\ncolumn = "molar_mass"\nbasis = "active matter"\n'
    library = load_library(write_folder(tmp_path, toml=toml))
    assert library.substance["Citric Acid"].extra == {"molar_mass": 192.12}
    assert library.substance["Citric Acid"].molar_mass == 192.12


def test_bad_number_in_a_column_of_the_user(tmp_path):
    text = with_demand().replace("gum,0.1", "gum,much")
    fault = only_fault(write_folder(tmp_path, toml=FULL, materials=text))
    assert fault.place == "row 5, column acid_demand"


def test_column_that_no_measure_names_is_unknown(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=with_demand()))
    assert fault.message == "unknown column 'acid_demand'"


def test_own_limits_are_remembered(tmp_path):
    folder = write_folder(tmp_path)
    (folder / "limits.csv").write_text("jurisdiction\n")
    assert load_library(folder).limits_file == str(folder / "limits.csv")
    assert load_library(write_folder(tmp_path / "other", substances=SUBSTANCES)).limits_file == ""
