"""Write the documents anew, on request, after an answer was meant to change.

    python -m tests.recorded.record

Look at what changed before it is kept: `git diff --stat` names no numbers, so run the test first and read it.
"""

from __future__ import annotations

import gzip
import json
import tempfile
from pathlib import Path
from typing import Any

from tests.recorded.commands import answer, commands, prepare

DOCUMENTS = Path(__file__).parent / "documents"


def kept(name: str) -> Any:
    """Return a document as it was recorded."""
    return json.loads(gzip.decompress((DOCUMENTS / f"{name}.json.gz").read_bytes()))


def record() -> None:
    """Run every command and keep its document; documents of commands that are gone go."""
    DOCUMENTS.mkdir(exist_ok=True)
    names = {f"{command.name}.json.gz" for command in commands()}
    for old in DOCUMENTS.glob("*.json.gz"):
        if old.name not in names:
            old.unlink()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        prepare(folder)
        for command in commands():
            text = answer((*command.words, "--format", "json"), folder)
            packed = gzip.compress(text.encode(), mtime=0)
            (DOCUMENTS / f"{command.name}.json.gz").write_bytes(packed)


if __name__ == "__main__":
    record()
