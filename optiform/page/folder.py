"""Reads and writes files of the work folder, whole and never outside it."""

from __future__ import annotations

import contextlib
import hashlib
import json
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from optiform.faults import BadInput, Fault, Faults
from optiform.library.files.opening import KEYS_BYTES, TABLE_BYTES, read_text
from optiform.library.files.writing import write_together, write_whole

OWN = ".optiform"
"""A hidden folder: earlier versions of what was changed here, and a lock between two runs."""
KEPT = 100
"""Earlier versions of one file that can be taken back."""
LONGEST = 2000
"""Letters of one field that are kept while a form is typed."""
NAMED_FILES = ("library", "shelf", "prices", "bench")
"""Keys of a brief or a plan that name a file or a folder."""


class NotHere(Exception):
    """No file of that name is inside the folder."""


class Taken(Exception):
    """A file of that name is there already."""


@dataclass
class Changed(Exception):
    """A file is no longer as it was when it was shown: nothing was written.

    Attributes
    ----------
    name : str
    now, mine : str
        What stands there, and what would have been written.
    version : str
        Of what stands there.
    """

    name: str
    now: str
    mine: str
    version: str


@dataclass(frozen=True)
class Held:
    """A text file as it is now."""

    name: str
    text: str
    version: str


def version_of(text: str) -> str:
    """Return a hash that tells two versions of a text, or two names, apart."""
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:16]


def speakable(name: str) -> bool:
    """Tell whether a name can stand in an address and on a page: no control or direction marks, no drive."""
    return name.isprintable() and "\\" not in name and ":" not in name


@dataclass(frozen=True)
class Step:
    """Files that were written together and can be taken back together.

    Attributes
    ----------
    what : str
        What was written, in a few words.
    before : mapping
        The bytes of each file as letters; None where there was none.
    after : mapping
        The version of each file then.
    form, typed : str, mapping
        What had been typed, and into which form.
    """

    version: str
    what: str
    before: Mapping[str, str | None]
    after: Mapping[str, str]
    form: str
    typed: Mapping[str, str]


@dataclass
class Folder:
    """A work folder with everything below it that is not hidden.

    Attributes
    ----------
    root : Path
        Without links.
    """

    root: Path
    _writing: threading.RLock = field(default_factory=threading.RLock, repr=False)
    _deep: bool = field(default=False, repr=False)

    def __post_init__(self) -> None:
        """Follow links once, so that every place is compared with the same root."""
        self.root = self.root.resolve()

    def place(self, name: str) -> Path:
        """Return the path of a name inside the folder, whether it exists or not.

        Raises
        ------
        NotHere
            Outside the folder, by its parts or by a link; hidden; a name that no file can have.
        """
        parts = PurePosixPath(name).parts
        if not parts or not speakable(name) or any(part.startswith((".", "/")) for part in parts):
            raise NotHere(name)
        try:
            found = self.root.joinpath(*parts).resolve()
            found.exists()  # resolving alone lets names pass that are too long for a file
        except (OSError, ValueError, RuntimeError):
            raise NotHere(name) from None
        if found == self.root or not found.is_relative_to(self.root):
            raise NotHere(name)
        return self.root.joinpath(*parts)

    def read(self, name: str) -> Held:
        """Return a text file.

        Raises
        ------
        NotHere
            No such file.
        BadInput
            One that is no text, or too large.
        """
        path = self.place(name)
        if not path.is_file():
            raise NotHere(name)
        faults = Faults(name)
        most = KEYS_BYTES if path.suffix == ".toml" else TABLE_BYTES
        text = read_text(path, faults, most=most, allowed="a text file")
        faults.raise_if_any()
        return Held(name, text or "", version_of(text or ""))

    def create(self, name: str, text: str) -> Held:
        """Write a new file.

        Raises
        ------
        Taken
            A file of that name is there; it is left as it is.
        """
        self.put(name, text.encode("utf-8"))
        return Held(name, text, version_of(text))

    def put(self, name: str, content: bytes) -> None:
        """Write a new file of any bytes; see `create`."""
        path = self.place(name)
        with self._alone():
            if path.exists():
                raise Taken(name)
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, content, replace=False)

    def replace(self, name: str, text: str, version: str, *, keep: bool = True) -> Held:
        """Write a file that is still as it was shown, and keep what it was.

        Raises
        ------
        Changed
            Somebody else wrote it meanwhile.
        """
        with self._alone():
            now = self.read(name)
            if now.version != version:
                raise Changed(name, now.text, text, now.version)
            if text != now.text:
                if keep:
                    self._keep(now)
                write_whole(self.place(name), text.encode("utf-8"))
        return Held(name, text, version_of(text))

    def step(self, name: str, files: Sequence[str], write: Callable[[], str], form: str = "") -> None:
        """Let a function write files while nobody else does, and keep what they were, to be taken back together.

        Steps are kept under their name, one after the other. `write` returns in a few words what it wrote; what was
        typed into the form comes back with the files.
        """
        with self._alone():
            before = {file: self._bytes(file) for file in files}
            what = write()
            after = {file: version_of(self._bytes(file) or "") for file in files}
            kept = {"what": what, "before": before, "after": after, "form": form, "typed": self.typed(form)}
            self._keep(Held(name, json.dumps(kept), ""))

    def last_step(self, name: str) -> Step | None:
        """Return the last step that is not taken back; None where a file is no longer as it left it."""
        earlier = self._earlier(name)
        if not earlier:
            return None
        text = earlier[-1].read_text(encoding="utf-8")
        step = Step(version=version_of(text), **json.loads(text))
        as_left = (version_of(self._bytes(file) or "") == held for file, held in step.after.items())
        return step if all(as_left) else None

    def take_back(self, name: str, version: str) -> None:
        """Write the files as they were before the last step, if that is the one that was seen."""
        with self._alone():
            step = self.last_step(name)
            if step is None or step.version != version:
                return
            contents = {}
            for file, text in step.before.items():
                if text is None:
                    self.place(file).unlink(missing_ok=True)
                else:
                    contents[self.place(file)] = text.encode("latin-1")
            if contents:
                write_together(contents)
            if step.typed:
                self.note_typed(step.form, step.typed)
            self._earlier(name)[-1].unlink()

    def _bytes(self, name: str) -> str | None:
        """Return the bytes of a file decoded as Latin-1, one letter a byte; None where there is no file."""
        path = self.place(name)
        return path.read_bytes().decode("latin-1") if path.is_file() else None

    def typed(self, form: str) -> dict[str, str]:
        """Return what was typed into a form and not sent yet, by field."""
        try:
            held = json.loads(self._typed(form).read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}
        return {str(name): str(value) for name, value in held.items()} if isinstance(held, dict) else {}

    def note_typed(self, form: str, fields: Mapping[str, str]) -> dict[str, str]:
        """Keep what was typed into some fields of a form beside the others; return all of it."""
        with self._alone():
            held = {**self.typed(form), **{name: value[:LONGEST] for name, value in fields.items()}}
            self._typed(form).parent.mkdir(parents=True, exist_ok=True)
            write_whole(self._typed(form), json.dumps(held, ensure_ascii=False).encode("utf-8"))
        return held

    def forget_typed(self, form: str) -> None:
        """Forget what was typed into a form, once it was sent."""
        self._typed(form).unlink(missing_ok=True)

    def _typed(self, form: str) -> Path:
        return self.root / OWN / "typed" / f"{version_of(form)}.json"

    def can_undo(self, name: str) -> bool:
        """Tell whether an earlier version of a file is kept."""
        return bool(self._earlier(name))

    def undo(self, name: str, version: str) -> Held:
        """Write the last earlier version of a file again; it is the same when there is none.

        Raises
        ------
        Changed
            Somebody else wrote it meanwhile.
        """
        with self._alone():
            earlier = self._earlier(name)
            if not earlier:
                return self.read(name)
            held = self.replace(name, earlier[-1].read_text(encoding="utf-8"), version, keep=False)
            earlier[-1].unlink()
        return held

    def _keep(self, held: Held) -> None:
        """Keep one version, and forget the oldest beyond `KEPT`."""
        earlier = self._earlier(held.name)
        number = int(earlier[-1].stem) + 1 if earlier else 1
        place = self._kept(held.name)
        place.mkdir(parents=True, exist_ok=True)
        write_whole(place / f"{number:06d}.txt", held.text.encode("utf-8"))
        for old in earlier[: max(0, len(earlier) + 1 - KEPT)]:
            old.unlink(missing_ok=True)

    def _earlier(self, name: str) -> list[Path]:
        place = self._kept(name)
        return sorted(path for path in place.glob("*.txt") if path.stem.isdigit()) if place.is_dir() else []

    def _kept(self, name: str) -> Path:
        return self.root / OWN / "before" / version_of(name)

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        """Hold the lock for writing, against other requests and, where the system has locks, other runs."""
        with self._writing:
            if self._deep:  # the lock of the system counts openings, not threads
                yield
                return
            own = self.root / OWN
            own.mkdir(exist_ok=True)
            with (own / "lock").open("ab") as lock:
                with contextlib.suppress(ImportError, OSError):
                    import fcntl

                    fcntl.flock(lock, fcntl.LOCK_EX)
                self._deep = True
                try:
                    yield
                finally:
                    self._deep = False

    def refuse_outside(self, name: str, keys: Mapping[str, Any]) -> None:
        """Refuse a brief or a plan that names files outside the folder.

        Raises
        ------
        BadInput
            With every such key.
        """
        start = self.place(name).parent
        faults = Faults(name)
        baseline = keys.get("baseline")
        named = {key: keys.get(key) for key in NAMED_FILES}
        named["[baseline] formula"] = baseline.get("formula") if isinstance(baseline, dict) else None
        for table in ("make", "product"):
            entries = keys.get(table)
            for number, entry in enumerate(entries if isinstance(entries, list) else (), 1):
                for key in ("formula", "brief"):
                    named[f"[[{table}]] {number}, {key}"] = (
                        entry.get(key) if isinstance(entry, dict) else None
                    )
        for place, word in named.items():
            if isinstance(word, str) and not self._inside(start, word):
                message = f"'{word}' is outside this folder"
                faults.add(place, message, allowed="a file of this folder; or open the folder above")
        faults.raise_if_any()

    def _inside(self, start: Path, word: str) -> bool:
        """Tell whether a file, and every file of a library, is inside the folder, links followed."""
        try:
            found = (start / word).resolve()
            every = [found, *(path.resolve() for path in found.iterdir())] if found.is_dir() else [found]
        except (OSError, ValueError, RuntimeError):
            return False
        return all(path.is_relative_to(self.root) for path in every)


def refused(bad: BadInput, root: Path) -> tuple[Fault, ...]:
    """Return faults with their files named from the folder on."""
    lead = f"{root}/"
    return tuple(
        Fault(fault.file.removeprefix(lead), fault.place, fault.message, fault.allowed, fault.nearest)
        for fault in bad.faults
    )
