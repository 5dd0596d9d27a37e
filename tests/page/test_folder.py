"""What is read and written stays in the folder, is whole, and is never written over unseen."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from optiform.faults import BadInput
from optiform.page.folder import Changed, Folder, NotHere, Taken, version_of
from optiform.page.listing import listing


@pytest.fixture
def folder(tmp_path):
    root = tmp_path / "work"
    root.mkdir()
    (tmp_path / "secret.toml").write_text('title = "secret"')
    return Folder(root)


OUT = [
    "../secret.toml", "a/../../secret.toml", "/etc/passwd", "//etc/passwd", "..", ".", "", "a\\..\\..\\secret.toml",
    "C:/secret.toml", ".optiform/lock", "a/.hidden", "a\x00b", "\n", "%2e%2e/secret.toml/../../..",
]  # fmt: skip


@pytest.mark.parametrize("name", OUT)
def test_no_name_leads_out(folder, name):
    for act in (
        folder.read,
        lambda name: folder.create(name, "x"),
        lambda name: folder.replace(name, "x", ""),
    ):
        with pytest.raises(NotHere):
            act(name)
    assert (folder.root.parent / "secret.toml").read_text() == 'title = "secret"'


@pytest.mark.parametrize("name", ["x" * 300, "x" * 300 + "/brief.toml"])
def test_a_name_that_no_file_can_have_is_not_there(folder, name):
    """A part of a path has at most 255 bytes (ext4, NTFS and APFS alike)."""
    with pytest.raises(NotHere):
        folder.place(name)


@pytest.mark.parametrize("place", ["../secret.toml", "..%2Fsecret.toml", "%2e%2e/secret.toml", "/etc/passwd"])
def test_no_address_leads_out(bench, place):
    (bench.root.parent / "secret.toml").write_text('title = "secret"')
    for start in (
        "/brief/",
        "/formula/",
        "/batch/",
        "/sheet/",
        "/design/",
        "/plan/",
        "/prices/",
        "/family/",
        "/trials/",
    ):
        answer = bench.get(start + place)
        assert answer.status in (404, 422)
        assert "secret" not in answer.text.replace("secret.toml", "")


def test_a_link_that_leads_out_is_not_followed(folder):
    (folder.root / "link.toml").symlink_to(folder.root.parent / "secret.toml")
    (folder.root / "up").symlink_to(folder.root.parent)
    for name in ("link.toml", "up/secret.toml"):
        with pytest.raises(NotHere):
            folder.read(name)
        with pytest.raises(NotHere):
            folder.replace(name, "x", version_of('title = "secret"'))
    with pytest.raises(NotHere):
        folder.create("up/new.toml", "x")
    assert listing(folder.root) == ()


@pytest.mark.parametrize(
    "keys",
    [
        {"library": "../elsewhere"}, {"shelf": "/etc/passwd"}, {"prices": "../p.csv"}, {"bench": "../b"},
        {"baseline": {"formula": "../f.csv"}}, {"make": [{"formula": "../f.csv"}]}, {"library": "up/x"},
    ],
)  # fmt: skip
def test_a_brief_that_names_files_outside_is_refused(folder, keys):
    (folder.root / "up").symlink_to(folder.root.parent)
    with pytest.raises(BadInput, match="outside this folder"):
        folder.refuse_outside("x.toml", keys)


def test_a_library_with_a_file_from_outside_is_refused(folder):
    (folder.root / "own").mkdir()
    (folder.root / "own" / "materials.csv").symlink_to(folder.root.parent / "secret.toml")
    with pytest.raises(BadInput, match="outside this folder"):
        folder.refuse_outside("x.toml", {"library": "own"})


def test_a_new_file_never_takes_the_place_of_another(folder):
    folder.create("a.toml", "first")
    with pytest.raises(Taken):
        folder.create("a.toml", "second")
    assert folder.read("a.toml").text == "first"


def test_a_file_that_changed_meanwhile_is_left_and_both_versions_are_known(folder):
    held = folder.create("a.toml", "first")
    (folder.root / "a.toml").write_text("theirs")
    with pytest.raises(Changed) as caught:
        folder.replace("a.toml", "mine", held.version)
    assert (caught.value.now, caught.value.mine) == ("theirs", "mine")
    assert folder.read("a.toml").text == "theirs"


def test_undo_goes_back_step_by_step_to_the_beginning(folder):
    held = folder.create("a.toml", "0")
    for number in range(1, 6):
        held = folder.replace("a.toml", str(number), held.version)
    told = []
    while folder.can_undo("a.toml"):
        held = folder.undo("a.toml", held.version)
        told.append(held.text)
    assert told == ["4", "3", "2", "1", "0"]
    assert folder.undo("a.toml", held.version).text == "0"


def test_old_versions_do_not_grow_without_end(folder, monkeypatch):
    monkeypatch.setattr("optiform.page.folder.KEPT", 5)
    held = folder.create("a.toml", "-1")
    for number in range(8):
        held = folder.replace("a.toml", str(number), held.version)
    assert len(list((folder.root / ".optiform").rglob("*.txt"))) == 5


def test_of_many_who_write_at_once_each_writes_on_what_it_saw(folder):
    """A counter that eight threads raise: no raise is lost, because a stale one is refused."""
    folder.create("n.txt", "0")
    gate = threading.Barrier(8)

    def raise_it(_):
        gate.wait()
        for _ in range(5):
            while True:
                held = folder.read("n.txt")
                try:
                    folder.replace("n.txt", str(int(held.text) + 1), held.version, keep=False)
                    break
                except Changed:
                    continue

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(raise_it, range(8)))
    assert folder.read("n.txt").text == "40"


def test_a_process_killed_while_it_saves_leaves_a_whole_file(folder):
    """Written over and over until the process is killed: what stands there is one of the texts, whole."""
    texts = ["a" * 200_000, "b" * 300_000]
    held = folder.create("a.toml", texts[0])
    code = (
        "import sys\nfrom pathlib import Path\nfrom optiform.page.folder import Folder\n"
        f"folder, held = Folder(Path(sys.argv[1])), None\ntexts = ['a' * 200_000, 'b' * 300_000]\n"
        f"version = {held.version!r}\nprint('ready', flush=True)\n"
        "for n in range(10**6):\n    version = folder.replace('a.toml', texts[(n + 1) % 2], version).version\n"
        "    n == 3 and print('going', flush=True)\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(folder.root)], stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    assert child.stdout.readline() == "going\n"
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    child.stdout.close()
    assert folder.read("a.toml").text in texts
    again = folder.read("a.toml")
    assert folder.replace("a.toml", "after", again.version).text == "after"


def test_the_folder_is_told_by_what_each_file_says(bench):
    bench.write("a.toml", 'title = "A wash"\n[targets]\nmildness = { at_least = 50 }\n')
    bench.write("deep/plan.toml", 'title = "Spring"\n[[make]]\nformula = "f.csv"\nbatch = "1kg"\n')
    bench.write("unit.toml", "[unit]\ncontents_ml = 200\n")
    bench.write("f.csv", "material,percent\npurified-water,100\n")
    bench.write("p.csv", "material;price\nglycerin;2\n")
    bench.write("own/library.toml", 'name = "Ours"\n')
    bench.write("own/materials.csv", "id,name\n")
    bench.write("evenings/weighed.csv", "trial,date,block,brief,parent,material,grams\n")
    bench.write("evenings/readings.csv", "trial,measure,value\n")
    bench.write("shared.toml", 'title = "One shelf"\n[[product]]\nbrief = "a.toml"\nbatch = "1kg"\n')
    bench.write(".secret.toml", 'title = "no"\n[targets]\n')
    bench.write("notes.txt", "material,percent\n")
    found = {one.name: (one.kind, one.title) for one in listing(bench.root)}
    assert found == {
        "a.toml": ("brief", "A wash"),
        "deep/plan.toml": ("plan", "Spring"),
        "unit.toml": ("unit", "unit"),
        "f.csv": ("formula", "f"),
        "p.csv": ("prices", "p"),
        "own": ("library", "Ours"),
        "evenings": ("trials", "evenings"),
        "shared.toml": ("family", "One shelf"),
    }
