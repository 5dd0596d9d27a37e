"""Adds columns to a table of a library, and a preservative system to library.toml; every old byte stays."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from optiform.faults import Faults
from optiform.library.files.opening import TABLE_BYTES, read_bytes
from optiform.library.rules import PreservativeSystem


def widened(data: bytes, columns: Sequence[str]) -> bytes:
    """Return a CSV file with further columns at its right end, empty in every row below the header."""
    if not columns:
        return data
    lines = io.StringIO(data.decode("utf-8"), newline="").readlines()
    reader = csv.reader(iter(lines))
    named = False
    for cells in reader:
        if not any(map(str.strip, cells)):
            continue
        last = reader.line_num - 1
        ending = re.search(r"[\r\n]*\Z", lines[last])
        end = ending.group() if ending is not None else ""
        more = "," + (",".join(columns) if not named else "," * (len(columns) - 1))
        lines[last] = lines[last][: len(lines[last]) - len(end)] + more + end
        named = True
    return "".join(lines).encode("utf-8")


def with_system(path: Path, system: PreservativeSystem, faults: Faults) -> bytes:
    """Return a library.toml with a preservative system behind what it says, or nothing after noting a fault."""
    data = read_bytes(path, faults, most=TABLE_BYTES, allowed="a TOML file in UTF-8")
    if data is None:
        return b""
    low, high = system.pH or (None, None)
    members = ", ".join(
        f"{_text(name)} = [{least:.10g}, {most:.10g}]" for name, (least, most) in system.members.items()
    )
    ends = ", ".join('""' if end is None else f"{end:.10g}" for end in (low, high))
    lines = [
        "[[system]]",
        f"name = {_text(system.name)}",
        f"members = {{ {members} }}",
        *([f"pH = [{ends}]"] if system.pH is not None else []),
        *([f"trust = {_text(str(system.trust))}"] if system.trust is not None else []),
        *([f"source = {_text(system.source)}"] if system.source else []),
    ]
    glue = b"" if data.endswith(b"\n") else b"\n"
    whole = data + glue + ("\n" + "\n".join(lines) + "\n").encode("utf-8")
    try:
        tomllib.loads(whole.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        faults.add(
            "", f"a [[system]] cannot be added at its end ({error})", allowed="[[system]] tables", file=path
        )
    return whole


def _text(text: str) -> str:
    """Return a text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)
