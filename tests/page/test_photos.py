"""Photos of trials: taken along with a reading, under a name of ours; whatever is no picture is kept out.

The attacks are those that the OWASP cheat sheet on file uploads lists; the cases here are ours.
"""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import quote

import pytest

from tests.page.bench import Bench, request

EVENINGS = Path(__file__).parents[2] / "problems" / "three-evenings"
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c63f8cfc0f01f00050001ff"
    "89993d1d0000000049454e44ae426082"
)
"""One red dot: signature, IHDR, IDAT, IEND (PNG specification, 5.2 and 11.2)."""
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(64) + b"\xff\xd9"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.fixture
def evenings(bench):
    for file in (EVENINGS / "bench").glob("*.csv"):
        bench.write(f"evenings/{file.name}", file.read_text(encoding="utf-8"))
    return bench


def shoot(bench: Bench, content: bytes, called: str = "IMG_1.jpg", name: str = "evenings", **more: str):
    """Send a photo as a browser does (RFC 7578)."""
    fields = {"token": bench.desk.keys.token, "trial": "2", **more}
    lines = [
        f'--x\r\ncontent-disposition: form-data; name="{key}"\r\n\r\n{text}\r\n'
        for key, text in fields.items()
    ]
    lines += [f'--x\r\ncontent-disposition: form-data; name="photo"; filename="{called}"\r\n\r\n']
    body = "".join(lines).encode() + content + b"\r\n--x--\r\n"
    form = {"content-type": "multipart/form-data; boundary=x", "content-length": str(len(body))}
    return request(bench.app, "POST", f"/photo/{quote(name)}", bench.headers(**form), [body])


def inside(bench: Bench) -> set[str]:
    return {path.name for path in (bench.root / "evenings").iterdir()}


def test_a_photo_goes_along_with_the_reading_and_is_shown_with_it(evenings):
    answer = shoot(evenings, PNG)
    assert answer.status == 303 and answer.place.startswith("/trial/evenings?trial=2")
    (kept,) = inside(evenings) - {"weighed.csv", "readings.csv"}
    assert re.fullmatch(r"trial-2-\d{4}-\d\d-\d\d\.png", kept)
    assert f"file={kept}" in evenings.get(answer.place).text
    assert kept not in evenings.text("evenings/readings.csv"), "a photo alone is no reading"
    evenings.post("/trial/evenings", {"trial": "2", "add": "yes", "value one phase": "no"})
    assert re.search(
        rf"^2,one phase,no,.*,{re.escape(kept)}$", evenings.text("evenings/readings.csv"), re.MULTILINE
    )
    page = evenings.get(answer.place).text
    assert "Photo, with one phase" in page[page.index("So far") :]
    shown = evenings.get(f"/photo/evenings?file={kept}")
    assert (shown.body, shown.headers["content-type"]) == (PNG, "image/png")
    assert (
        shown.headers["x-content-type-options"] == "nosniff"
        and "script-src" in shown.headers["content-security-policy"]
    )


def test_no_photo_is_written_over_another_and_one_can_be_left_out(evenings):
    for content in (JPEG, JPEG + b"later", PNG):
        assert shoot(evenings, content).status == 303
    kept = sorted(inside(evenings) - {"weighed.csv", "readings.csv"})
    assert [Path(name).suffix for name in kept] == [".jpg", ".jpg", ".png"]
    assert {(evenings.root / "evenings" / name).read_bytes() for name in kept} == {JPEG, JPEG + b"later", PNG}
    assert evenings.post("/photo/evenings", {"trial": "2", "without": "yes"}).status == 303
    assert 'id="shot"' in evenings.get("/trial/evenings?trial=2").text


@pytest.mark.parametrize(
    "content",
    [
        b"#!/bin/sh\nrm -rf /\n",
        SVG,
        b"<script>alert(1)</script>",
        b"GIF89a",
        b"",
        b"\xff\xd8",
        b"RIFF1234AVI ",
    ],
)
def test_what_is_no_picture_is_refused_whatever_it_is_called(evenings, content):
    before = inside(evenings)
    answer = shoot(evenings, content, "holiday.jpg")
    assert answer.status == 422 and "JPEG, PNG or WebP" in answer.text
    assert inside(evenings) == before


@pytest.mark.parametrize(
    "called", ["../../out.jpg", "C:\\out.jpg", "weighed.csv", ".optiform/lock", "a\x00.jpg", "x" * 300]
)
def test_the_name_that_a_browser_gives_counts_for_nothing(evenings, called):
    before = inside(evenings)
    assert shoot(evenings, JPEG, called).status == 303
    assert all(name.startswith("trial-2-") for name in inside(evenings) - before)
    assert sorted(path.name for path in evenings.root.parent.glob("*out.jpg")) == []


@pytest.mark.parametrize("name", ["..", "../evenings", "nowhere", ".optiform", "evenings/.."])
def test_a_photo_goes_into_a_bench_of_the_folder_alone(evenings, name):
    assert shoot(evenings, JPEG, name=name).status in (404, 422)
    assert shoot(evenings, JPEG, trial="77").status == 404
    assert inside(evenings) == {"weighed.csv", "readings.csv"}


def test_a_hundred_megabytes_are_refused_by_their_header_and_by_their_length(evenings):
    form = {"content-type": "multipart/form-data; boundary=x"}
    told = evenings.headers(**form, **{"content-length": "100000000"})
    assert request(evenings.app, "POST", "/photo/evenings", told, [b""]).status == 413
    chunks = [
        b'--x\r\ncontent-disposition: form-data; name="photo"; filename="a"\r\n\r\n',
        *([JPEG * 20_000] * 100),
    ]
    assert sum(map(len, chunks)) > 1e8
    assert request(evenings.app, "POST", "/photo/evenings", evenings.headers(**form), chunks).status == 413
    assert inside(evenings) == {"weighed.csv", "readings.csv"}


@pytest.mark.parametrize(
    "file", ["weighed.csv", "../a.toml", "..", "", "drawing.svg", "script.jpg", "out.png", "none.jpg"]
)
def test_only_pictures_of_the_bench_are_handed_out(evenings, file, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "out.png"
    outside.write_bytes(PNG)
    (evenings.root / "evenings" / "out.png").symlink_to(outside)
    (evenings.root / "evenings" / "drawing.svg").write_bytes(SVG)
    (evenings.root / "evenings" / "script.jpg").write_bytes(b"<script>alert(1)</script>")
    assert evenings.get(f"/photo/evenings?file={quote(file)}").status in (404, 422)


def test_what_readings_call_a_photo_is_shown_only_where_it_is_one(evenings):
    rows = evenings.text("evenings/readings.csv")
    evenings.write(
        "evenings/readings.csv", rows + "2,foam,98,,,,,,,<script>.jpg\n2,feel,3,,,,,,,../../x.png\n"
    )
    page = evenings.get("/trial/evenings?trial=2").text
    assert "<script>." not in page and "Photo, with" not in page
