"""Recosting a folder: what it finds, what it says of each product, and what a kill leaves behind."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import optiform as api
from optiform.answers.design import design
from optiform.answers.recost import gather
from optiform.brief import load_brief
from optiform.cli.entry import main
from optiform.faults import BadInput
from tests.answers.recost.products import folder, prices, recost
from tests.trials.benches import bench_at


def by_name(results):
    return {result.name: result for result in results}


def test_a_formula_is_priced_by_hand(tmp_path):
    """20 % at 2.0 and 5 % at 1.5: 0.475; nettle soap at 4.0 instead: 0.875 EUR/kg."""
    root = folder(tmp_path / "products", 1)
    found = by_name(recost(root, prices(root, nettle_soap=4.0), library=root / "library"))["today.csv"]
    assert (found.kind, found.cost_before, found.cost_same) == (
        "formula",
        pytest.approx(0.475),
        pytest.approx(0.875),
    )


BOTTLE = "[unit]\ncontents_ml = 200\ndensity = 1.02\noverfill_percent = 1\nyield_percent = 96\n"


def test_the_change_is_told_per_bottle(tmp_path, capsys):
    """200 ml * 1.02 * 1.01 / 0.96 = 214.625 g a bottle: 0.475 EUR/kg are 0.1019, 0.875 are 0.1878; 0.09 more."""
    root = folder(tmp_path / "products", 1)
    (tmp_path / "bottle.toml").write_text(BOTTLE)
    new = prices(root, nettle_soap=4.0)
    found = by_name(api.recost(root, new, library=root / "library", unit=tmp_path / "bottle.toml"))
    unit = found["today.csv"].unit
    assert unit.before == pytest.approx(0.475 * 0.214625)
    assert unit.same == unit.after == pytest.approx(0.875 * 0.214625)
    words = ["recost", str(root), "--prices", str(new), "--library", str(root / "library"), "--workers", "1"]
    assert main([*words, "--unit", str(tmp_path / "bottle.toml")]) == 0
    told = capsys.readouterr().out.partition("The change in one unit of 214.625 g")[2]
    assert re.search(r"today +0\.10 +\+0\.09 +\+0\.09\n", told)
    assert "Nettle soap" in told and "nettle-soap" not in told
    assert main(words) == 0
    assert "one unit" not in capsys.readouterr().out


def test_a_bottle_by_volume_needs_one_density_for_all(tmp_path):
    root = folder(tmp_path / "products", 1)
    bottle = tmp_path / "bottle.toml"
    bottle.write_text("[unit]\ncontents_ml = 200\n")
    with pytest.raises(BadInput, match="stands for every product"):
        api.recost(root, prices(root, nettle_soap=4.0), unit=bottle)


def test_a_brief_costs_what_design_says_before_and_after(tmp_path):
    root = folder(tmp_path / "products", 3)
    new = prices(root, nettle_soap=9.0)
    for name, found in by_name(recost(root, new, library=root / "library")).items():
        if found.kind == "formula":
            continue
        text = (root / name).read_text(encoding="utf-8")
        before = design(load_brief(root / name)).formulas[0]
        (root / name).write_text(f'prices = "{new}"\n{text}', encoding="utf-8")
        after = design(load_brief(root / name)).formulas[0]
        (root / name).write_text(text, encoding="utf-8")
        assert found.cost_before == pytest.approx(before.cost, abs=1e-9)
        assert found.cost_after == pytest.approx(after.cost, abs=1e-9)
        held = {line.material: line.percent for line in before.lines}
        unchanged = sum(
            percent * {"nettle-soap": 9.0, "linden-soap": 3.2, "quince-soap": 4.0}.get(m, 0.0)
            for m, percent in held.items()
        )
        assert found.cost_same == pytest.approx(unchanged / 100, abs=1e-9)
        assert found.saving == pytest.approx(found.cost_same - found.cost_after, abs=1e-9)
        assert found.saving >= -1e-9
        other = {line.material: line.percent for line in after.lines}
        same = all(abs(held.get(m, 0.0) - other.get(m, 0.0)) < 5e-4 for m in held.keys() | other.keys())
        expected = "kept" if same else "adjusted" if before.structure == after.structure else "changed"
        assert found.outcome == expected


def test_a_dearer_list_can_break_a_brief_and_a_cheaper_one_free_it(tmp_path):
    root = folder(tmp_path / "products", 2)
    dear = prices(root, nettle_soap=90.0, linden_soap=90.0, quince_soap=90.0)
    assert {r.outcome for r in recost(root, dear, library=root / "library") if r.kind == "brief"} == {
        "broken"
    }
    text = (root / "wash-0000.toml").read_text(encoding="utf-8").replace("at_most = 1.5", "at_most = 0.1")
    (root / "wash-0000.toml").write_text(text, encoding="utf-8")
    cheap = prices(root, nettle_soap=0.2, linden_soap=0.2, quince_soap=0.2)
    assert by_name(recost(root, cheap, library=root / "library"))["wash-0000.toml"].outcome == "freed"


def test_one_bad_brief_never_stops_the_rest(tmp_path):
    root = folder(tmp_path / "products", 2)
    (root / "bad.toml").write_text('title = "x"\n[targets]\n"mildnes" = { at_least = 3 }\n', encoding="utf-8")
    (root / "torn.toml").write_text("title = [", encoding="utf-8")
    found = by_name(recost(root, prices(root, glycerin=2.0), library=root / "library"))
    assert found["bad.toml"].outcome == "fault" and "mildness" in found["bad.toml"].faults[0]
    assert found["torn.toml"].outcome == "fault"
    assert found["wash-0000.toml"].outcome == "kept" and found["wash-0001.toml"].outcome == "kept"


@pytest.mark.parametrize("wrong", ["missing", "empty"])
def test_a_folder_without_products_is_bad_input(tmp_path, wrong):
    root = folder(tmp_path / "products", 1)
    target = tmp_path / wrong
    if wrong == "empty":
        target.mkdir()
    with pytest.raises(BadInput):
        recost(target, prices(root, glycerin=2.0))


def test_several_processes_say_what_one_says(tmp_path):
    root = folder(tmp_path / "products", 12)
    new = prices(root, nettle_soap=5.0)
    one = recost(root, new, library=root / "library", workers=1)
    assert recost(root, new, library=root / "library", workers=2) == one


def test_a_journal_is_believed_until_something_changes(tmp_path):
    root = folder(tmp_path / "products", 4)
    new, journal, told = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", []
    first = recost(root, new, library=root / "library", journal=journal)
    again = recost(
        root, new, library=root / "library", journal=journal, progress=lambda *step: told.append(step)
    )
    assert again == first and told == []
    (root / "wash-0002.toml").write_text(
        (root / "wash-0003.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    recost(root, new, library=root / "library", journal=journal, progress=lambda *step: told.append(step))
    assert [name for _, _, name in told] == ["wash-0002.toml"]


def test_a_line_cut_short_is_done_again_and_a_strange_file_is_refused(tmp_path):
    root = folder(tmp_path / "products", 4)
    new, journal = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl"
    first = recost(root, new, library=root / "library", journal=journal)
    whole = journal.read_bytes()
    journal.write_bytes(whole[:-20])
    assert recost(root, new, library=root / "library", journal=journal) == first
    assert sorted(journal.read_bytes().splitlines()) == sorted(whole.splitlines())
    journal.write_text("dear diary\n", encoding="utf-8")
    with pytest.raises(BadInput, match="journal"):
        recost(root, new, library=root / "library", journal=journal)


CEILING = 600
"""Seconds after which an event that is waited for counts as one that never comes."""


def wait_until(happened):
    deadline = time.monotonic() + CEILING
    while not happened():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def children_of(pid: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[1]) == pid:
                found.append(int(entry.name))
    return found


def alive(pid: int) -> bool:
    try:
        return (Path("/proc") / str(pid) / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()[
            0
        ] != "Z"
    except OSError:
        return False


HELD = """\
import sys, time
from optiform.answers.recost import processes
from optiform.cli import main

usual = processes.recost_one

def held(task, library, prices):
    while task.name > "wash-0008":
        time.sleep(600)
    return usual(task, library, prices)

processes.recost_one = held
if __name__ == "__main__":
    sys.exit(main())
"""
"""The program with products that its workers, who read this file as well, never finish: whenever the kill comes,
nine products are done and both workers are busy."""


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc")
@pytest.mark.parametrize(
    ("by", "send"), [(signal.SIGINT, os.kill), (signal.SIGINT, os.killpg), (signal.SIGKILL, os.kill)]
)
def test_a_kill_leaves_whole_lines_no_orphans_and_a_run_that_goes_on(tmp_path, by, send):
    """A terminal sends Ctrl-C to the parent and to all workers."""
    root, script = folder(tmp_path / "products", 20), tmp_path / "held.py"
    new, journal = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl"
    script.write_text(HELD, encoding="utf-8")
    command = [sys.executable, str(script), "recost", str(root), "--prices", str(new), "--workers", "2"]
    command += ["--library", str(root / "library"), "--journal", str(journal), "--format", "json"]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])},
    )
    wait_until(lambda: journal.exists() and journal.read_bytes().count(b"\n") >= 9)
    offspring = children_of(process.pid)
    assert offspring
    send(process.pid, by)
    _, said = process.communicate(timeout=CEILING)
    assert "Traceback" not in said
    if by == signal.SIGINT:
        assert process.returncode == 4
        assert f"{journal} has what was finished" in said
    assert len({json.loads(line)["key"] for line in journal.read_bytes().splitlines()}) == 9
    assert journal.read_bytes().endswith(b"\n")
    wait_until(lambda: not any(alive(pid) for pid in offspring))
    results = recost(root, new, library=root / "library", journal=journal)
    keys = [json.loads(line)["key"] for line in journal.read_bytes().splitlines()]
    assert len(keys) == len(set(keys)) == len(results) == 21


def test_a_bench_folder_beside_a_brief_is_no_product(tmp_path):
    (tmp_path / "wash.csv").write_text("material,percent\nwater,90\nglycerin,10\n", encoding="utf-8")
    bench_at(tmp_path / "bench")
    found = gather(tmp_path, {})
    assert [task.name for task in found.tasks] == ["wash.csv"] and not found.unreadable
