"""Whatever a file contains, the answer is a library or a list of faults, never a traceback."""

import tempfile
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import given, settings

from optiform.faults import BadInput
from optiform.library import load_library
from tests.library.on_disk import SOUND, write_folder

BITS = st.sampled_from(
    [b"", b'"', b",", b"\n", b"\r", b";", b"\xff", b"\0", b"[", b"}", b"nan", b"1e999", b"\x0b"]
)
EDITS = st.lists(
    st.tuples(st.integers(0, 400), st.integers(0, 9), BITS | st.binary(max_size=3)), min_size=1, max_size=4
)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(SOUND)), EDITS)
def test_edited_bytes(name, edits):
    data = SOUND[name].encode()
    for start, length, inserted in edits:
        data = data[:start] + inserted + data[start + length :]
    with tempfile.TemporaryDirectory() as folder:
        path = write_folder(Path(folder))
        (path / name).write_bytes(data)
        try:
            assert load_library(path).materials
        except BadInput as bad:
            assert bad.faults
            assert all(fault.message for fault in bad.faults)
