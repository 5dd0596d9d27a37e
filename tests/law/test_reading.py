"""Reading the tables of the law, and a library's own limits in place of shipped ones."""

from datetime import date

import pytest

from optiform.faults import BadInput
from optiform.law.limits import applicable
from optiform.law.reading import (
    load_law,
    read_limits,
    shipped_allergens,
    shipped_limits,
    shipped_molar_masses,
)
from optiform.law.shipped import shipped_frames
from optiform.library.models import Trust

DAY = date(2026, 11, 25)
HEADER = (
    "jurisdiction,product,area,users,use,group,substances,max_percent,basis_molar_mass,equivalents,"
    "entry,warning,valid_from,valid_to,source\n"
)


def own(tmp_path, *rows):
    path = tmp_path / "limits.csv"
    path.write_text(HEADER + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


@pytest.mark.parametrize("jurisdiction", ["EU", "UK", "US"])
def test_shipped_rows_name_source_trust_and_date(jurisdiction):
    rows = shipped_limits(jurisdiction)
    assert rows
    for row in rows:
        assert row.source and row.entry and row.valid_from
        assert row.trust in (Trust.PUBLISHED, Trust.MEMORY)
        assert row.max_percent is not None or row.warning or row.use == "colourant"
        assert set(row.equivalents) <= set(row.substances)
        if row.basis_molar_mass is not None:
            assert set(row.substances) <= set(shipped_molar_masses())


def test_molar_masses_agree_with_published_ones():
    """NIST WebBook rounds benzoic acid to 122.12, sodium benzoate 144.10, sorbic acid 112.13 (memory)."""
    masses = shipped_molar_masses()
    for name, mass in {
        "Benzoic Acid": 122.12, "Sodium Benzoate": 144.10, "Sorbic Acid": 112.13, "Potassium Sorbate": 150.22,
        "Dehydroacetic Acid": 168.15, "Sodium Dehydroacetate": 190.13, "Salicylic Acid": 138.12,
        "Sodium Salicylate": 160.10, "Sulfur Dioxide": 64.06,
    }.items():  # fmt: skip
        assert masses[name] == pytest.approx(mass, abs=0.01)


def test_no_law_applies_nothing(tmp_path):
    law = load_law("none", own(tmp_path, "any,,,,,,Glycerin,5,,,house 1,,,,own"), on=DAY)
    assert law.limits == () and law.allergens == ()
    assert "not applied" in law.notes[0]
    assert applicable(law, "rinse-off", "face") == ()


def test_unknown_jurisdiction_names_the_nearest():
    with pytest.raises(BadInput, match="did you mean 'EU'"):
        load_law("eu")


def test_own_rows_replace_the_shipped_rows_of_their_entry(tmp_path):
    path = own(
        tmp_path,
        "EU,rinse-off,,,preservative,,Benzoic Acid;Sodium Benzoate,1.0,122.123,,Annex V/1,,,,own: assessor",
        "UK,any,,,any,,Glycerin,5,,,house 1,,,,own",
        "any,any,,,any,,Decyl Glucoside,12,,,house 2,,,,own",
    )
    law = load_law("EU", path, on=DAY)
    found = {limit.key: limit for limit in applicable(law, "rinse-off", "face")}
    assert found["EU Annex V/1"].max_percent == 1.0
    assert found["EU Annex V/1"].trust is Trust.OWN
    assert found["EU Annex V/1"].source == "assessor"
    assert found["EU house 2"].max_percent == 12.0
    assert "EU house 1" not in found
    assert law.notes == ("Annex V/1: the library's own rows replace the shipped ones.",)
    assert "EU Annex V/1" not in {limit.key for limit in applicable(law, "leave-on", "face")}


def test_an_own_row_of_another_entry_stands_beside_the_shipped_ones(tmp_path):
    law = load_law("EU", own(tmp_path, "any,any,,,any,,Phenoxyethanol,0.8,,,house 3,,,,own"), on=DAY)
    found = {limit.key: limit.max_percent for limit in applicable(law, "rinse-off", "face")}
    assert found["EU Annex V/29"] == 1.0 and found["EU house 3"] == 0.8


def test_every_fault_of_a_file_is_named_at_once(tmp_path):
    path = own(
        tmp_path,
        "EC,rinse-of,feet,,preservativ,,Sodium Benzoate,140,-1,,Annex V/1,,2026-13-01,,own",
        "EU,,,,,,,2.5,,,x,,,,own",
        "EU,,,,,,Calcium Sorbate;Sorbic Acid,0.6,112.13,Calcium Sorbat=2;Sorbic Acid=zwei,x,,,,own",
        "EU,,,,,,Sorbic Acid,0.6,,2,x,,2026-02-01,2026-01-01,own",
        "EU,,,,,,Sorbic Acid;sorbic acid,,,,x,,,,own",
        "EU,,,,,,Sorbic Acid,0;6,,,x,,,,own",
    )
    with pytest.raises(BadInput) as raised:
        read_limits(path)
    found = [(fault.place, fault.message, fault.nearest) for fault in raised.value.faults]
    assert all(fault.file == str(path) for fault in raised.value.faults)
    expected = {
        ("row 2, column jurisdiction", "'EC' is not known", ""),
        ("row 2, column product", "'rinse-of' is not known", "rinse-off"),
        ("row 2, column area", "'feet' is not known", ""),
        ("row 2, column use", "'preservativ' is not known", "preservative"),
        ("row 2, column max_percent", "'140' is not allowed", ""),
        ("row 2, column basis_molar_mass", "'-1' is not allowed", ""),
        ("row 2, column valid_from", "'2026-13-01' is not a date", ""),
        ("row 3, column substances", "the cell is empty", ""),
        ("row 4, column equivalents", "'Calcium Sorbat' is not among the substances", "Calcium Sorbate"),
        ("row 4, column equivalents", "'Sorbic Acid=zwei' is not understood", ""),
        ("row 5, column equivalents", "equivalents without a basis", ""),
        ("row 5, column valid_to", "2026-01-01 is before valid_from 2026-02-01", ""),
        ("row 6, column max_percent", "the row states neither a maximum nor a warning", ""),
        ("row 7, column max_percent", "'0;6' is not a number", ""),
    }
    assert expected <= set(found)
    assert ("row 6, column substances", "'Sorbic Acid' appears twice", "") in found


def test_unknown_and_missing_columns_are_named(tmp_path):
    path = tmp_path / "limits.csv"
    path.write_text("jurisdiction,substance,max_percent\nEU,Glycerin,5\n", encoding="utf-8")
    with pytest.raises(BadInput) as raised:
        read_limits(path)
    text = str(raised.value)
    assert "unknown column 'substance'" in text and "did you mean 'substances'" in text
    assert "column 'substances' is missing" in text


def test_a_missing_file_is_a_fault(tmp_path):
    with pytest.raises(BadInput, match="cannot be read"):
        load_law("EU", tmp_path / "absent.csv")


def test_allergens_per_jurisdiction():
    """24 long-standing names remain; Regulation (EU) 2023/1545 adds 56 to make 80."""
    eu = {entry.group_name for entry in shipped_allergens() if entry.jurisdiction == "EU"}
    uk = {entry.group_name for entry in shipped_allergens() if entry.jurisdiction == "UK"}
    assert len(uk) == 24
    assert len(eu) == 80 and uk < eu
    assert all(entry.rinse_off_percent == 0.01 for entry in shipped_allergens())
    assert all(entry.leave_on_percent == 0.001 for entry in shipped_allergens())


def test_frames_are_read():
    shampoo = {frame.totals: frame.max_percent for frame in shipped_frames() if frame.number == "10.1"}
    assert shampoo[("anionic",)] == 30.0 and shampoo[("preservative",)] == 1.5


def test_own_allergens_replace_the_shipped_ones_of_their_name(tmp_path):
    path = tmp_path / "allergens.csv"
    path.write_text(
        "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent,valid_from,source\n"
        "any,Limonene,Limonene,0.005,0.0005,,own: stricter house rule\n"
        "UK,Menthol,,0.01,0.001,,own\n",
        encoding="utf-8",
    )
    found = {entry.group_name: entry for entry in load_law("EU", on=DAY, extra_allergens=path).allergens}
    assert found["Limonene"].rinse_off_percent == 0.005
    assert found["Menthol"].trust is Trust.PUBLISHED
    uk = {entry.group_name: entry for entry in load_law("UK", on=DAY, extra_allergens=path).allergens}
    assert uk["Menthol"].members == ("Menthol",)


def test_faults_of_both_own_files_are_named_together(tmp_path):
    names = tmp_path / "allergens.csv"
    names.write_text(
        "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent\nEU,,x,,0.001\n", encoding="utf-8"
    )
    with pytest.raises(BadInput) as raised:
        load_law("EU", own(tmp_path, "EU,,,,,,Glycerin,500,,,x,,,,own"), on=DAY, extra_allergens=names)
    assert {fault.place for fault in raised.value.faults} == {
        "row 2, column max_percent",
        "row 2, column group_name",
        "row 2, column rinse_off_percent",
    }
