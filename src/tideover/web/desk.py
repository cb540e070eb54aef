"""One build that is open: its text as saved and as edited, its history, and the file on disk that others may change.

Nothing typed is lost: unsaved edits stand in a journal beside the build, ``.tideover/<name>.edits``, before a change is
acknowledged. Nothing of others is overwritten: a file that changed outside is taken, merged value by value, or asked
about.
"""

from __future__ import annotations

import glob
import hashlib
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tideover import files
from tideover.design import BuildError, Fault, Place, source
from tideover.design.edit import EditError, Where, replaced, span, value_at
from tideover.design.messages import folded
from tideover.design.read import examine_text
from tideover.network import settle
from tideover.web.journal import Edits, Journal
from tideover.web.locks import Lock
from tideover.web.merge import Merged, changes, key, merge

OUTSIDE = "outside"
"""Who changed a value when it was not one of the devices that have the build open."""
NEVER = datetime.min.replace(tzinfo=UTC)
KEPT = 64_000_000
"""Characters of all texts in the history; the oldest go first."""


@dataclass(frozen=True)
class State:
    """How an open build stands.

    Attributes
    ----------
    version : int
        Counts every change of the text.
    text, saved : str
        As edited, and as on disk when last seen.
    edits : int
        Values in which the two differ.
    can_undo, can_redo : bool
        Whether there is something to undo or redo.
    outside : str
        ``changed``: the file was changed outside and that was taken or merged just now; ``conflict``: it was, and
        somebody must choose; ``gone``: there is no file any more; empty otherwise.
    theirs : str
        The text outside while there is a conflict.
    disputed : tuple of Where
        Its places; one empty place stands for the whole text.
    """

    version: int
    text: str
    saved: str
    edits: int
    can_undo: bool
    can_redo: bool
    outside: str = ""
    theirs: str = ""
    disputed: tuple[Where, ...] = ()


@dataclass(frozen=True)
class Author:
    """Who set a value last, and when."""

    device: str
    when: datetime


@dataclass(frozen=True)
class Clash:
    """Somebody else was first: what stands there now, and who set it, if that is known."""

    current: str | None
    by: Author | None


@dataclass(frozen=True)
class Change:
    """What came of a change.

    Attributes
    ----------
    accepted : bool
        When False, nothing was altered.
    faults : tuple of Fault
        Why not; or, of an accepted change, everything that is wrong with the text now.
    clash : Clash or None
        Why not, when somebody else was first.
    """

    accepted: bool
    state: State
    faults: tuple[Fault, ...] = ()
    clash: Clash | None = None


class DeskError(Exception):
    """What cannot be done with the file; its text says how to mend it."""


@dataclass(frozen=True)
class _Step:
    text: str
    places: frozenset[Where] = frozenset()
    device: str = ""
    when: datetime = NEVER


class Desk:
    """An open build.

    Parameters
    ----------
    path : Path
        The build file.
    now : callable
        The time of day.

    Raises
    ------
    BuildError
        When there is no such file, or it is no text.
    """

    def __init__(self, path: Path, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.path = Path(path)
        self._file = self.path.resolve()
        self._now = now
        self._lock = threading.RLock()
        text, faults = source.read_text(self.path)
        if faults and not (text or faults[0].problem == "the file is empty"):
            raise BuildError(faults)
        raw = self._raw()
        self._seen = _hash(raw)
        self._mark = "\ufeff" if raw and raw.startswith(b"\xef\xbb\xbf") else ""
        self._saved = text
        self._steps = [_Step(text)]
        self._at = 0
        self._version = 1
        self._outside = ""
        self._theirs = ""
        self._disputed: tuple[Where, ...] = ()
        self._edits: tuple[str, str, int] = (text, text, 0)
        self._judged: tuple[str | None, tuple[Fault, ...]] = (None, ())  # only to tell new faults from old ones
        folder = self._file.parent / ".tideover"
        self._journal = Journal(self._file)
        self._guard = folder / f"{self._file.name}.lock"
        self.recovered = self._resume()

    # --- what there is --------------------------------------------------------------------------------

    @property
    def state(self) -> State:
        """How it stands."""
        with self._lock:
            return State(
                self._version,
                self._text,
                self._saved,
                self._count(),
                self._at > 0,
                self._at + 1 < len(self._steps),
                self._outside,
                self._theirs,
                self._disputed,
            )

    @property
    def _text(self) -> str:
        return self._steps[self._at].text

    def who(self, where: Where) -> Author | None:
        """Who set a value last; None when nobody did since the build was opened."""
        wanted = key(where)
        with self._lock:
            for step in reversed(self._steps[: self._at + 1]):
                if any(_same_place(place, wanted) for place in step.places):
                    return Author(step.device, step.when)
        return None

    def close(self) -> None:
        """Let go of the build; unsaved edits stay in the journal for whoever opens it next."""
        with self._lock:
            self._journal.close()

    def faults(self) -> tuple[Fault, ...]:
        """Everything that is wrong with the text as edited."""
        return self._faults(self._text)

    # --- changing -------------------------------------------------------------------------------------

    def change(self, where: Where, value: str | None, seen: str | None, device: str = "") -> Change:
        """Exchange one value.

        Parameters
        ----------
        where : tuple of str
            The place, as in `tideover.design.edit`.
        value : str or None
            What is to stand there; None takes the key out.
        seen : str or None
            What stood there when the editor began, None when nothing did.
        device : str
            Who asks.

        Returns
        -------
        change : Change
            Refused when something else than `seen` stands there now, or when the reader refuses the value.
        """
        with self._lock:
            text = self._text
            try:
                current = value_at(text, where)
                if _plain(current) == _plain(value):
                    return Change(True, self.state, self._faults(text))
                if _plain(current) != _plain(seen):
                    return Change(False, self.state, clash=Clash(current, self.who(where)))
                edited = replaced(text, where, value)
            except EditError as error:
                return Change(False, self.state, (self._fault(text, where, error),))
            except KeyError:
                missing = EditError("does not exist in this file", "", "Somebody may have taken it out: look again.")
                return Change(False, self.state, (self._fault(text, where, missing),))
            judged, before = self._judged
            before, after = before if judged == text else self._faults(text), self._faults(edited)
            refused = self._refused(edited, where, before, after)
            if refused:
                return Change(False, self.state, refused)
            self._push(edited, frozenset({key(where)}), device)
            self._judged = (edited, after)
            return Change(True, self.state, after)

    def undo(self) -> State:
        """One step back, over a save as well."""
        with self._lock:
            return self._move(-1)

    def redo(self) -> State:
        """One step forward again."""
        with self._lock:
            return self._move(1)

    def revert(self, device: str = "") -> State:
        """Back to what is saved; this can be undone."""
        with self._lock:
            if self._text != self._saved:
                self._push(self._saved, self._places(self._text, self._saved), device)
            return self.state

    # --- the file -------------------------------------------------------------------------------------

    def save(self) -> State:
        """Write the text to the file, unless the file was changed outside in the same place.

        Raises
        ------
        DeskError
            When it cannot be written; nothing is lost by that.
        """
        with self._lock, self._on_disk(), Lock(self._guard):
            self._look()
            if self._outside == "conflict":
                return self.state
            text = self._text
            if text != self._saved or self._outside == "gone":
                self._sweep()
                try:
                    files.write_text(self._file, self._mark + text, last=self._unchanged)
                except _Changed:
                    self._look()
                    return self.state
                self._seen, self._saved = _hash((self._mark + text).encode()), text
                self._outside = "" if self._outside == "gone" else self._outside
            self._record()
            return self.state

    def look(self) -> State:
        """See whether the file was changed outside; take it, merge it, or say that somebody must choose."""
        with self._lock:
            self._look()
            return self.state

    def settle(self, keep: str, device: str = "") -> State:
        """Choose ``ours`` or ``theirs`` where both changed a value; everything else of both stays.

        The other choice is one undo away.
        """
        if keep not in ("ours", "theirs"):
            raise ValueError(f"{keep!r} is neither ours nor theirs")
        with self._lock:
            if self._outside != "conflict":
                return self.state
            if keep == "theirs" and not self._theirs:
                raise DeskError(f"{self._file.name} is no text any more, so that only ours can be kept.")
            found = merge(self._saved, self._text, self._theirs, keep)
            other = merge(self._saved, self._text, self._theirs, "theirs" if keep == "ours" else "ours")
            ours = self._text
            self._outside = ""
            self._saved, self._theirs, self._disputed = self._theirs, "", ()
            if other.text not in (ours, found.text):
                self._push(other.text, self._places(ours, other.text), OUTSIDE)
            if found.text != self._text:
                self._push(found.text, self._places(self._text, found.text), device or OUTSIDE)
            self._record()
            return self.state

    def _raw(self) -> bytes | None:
        try:
            return self._file.read_bytes()
        except OSError:
            return None

    def _unchanged(self) -> None:
        if _hash(self._raw()) != ("" if self._outside == "gone" else self._seen):
            raise _Changed

    def _look(self) -> None:
        raw = self._raw()
        if self._outside == "changed":
            self._outside = ""
        if raw is None:
            if self._outside != "conflict":
                self._outside = "gone"
            return
        if self._outside == "gone":
            self._outside = ""
        if _hash(raw) == self._seen:
            return
        theirs, faults = source.decode(raw, str(self.path))
        if faults and not theirs and raw.strip():
            self._conflict(Merged("", ((),), False), "", raw)
            return
        self._mark = "\ufeff" if raw.startswith(b"\xef\xbb\xbf") else ""
        if self._text in (self._saved, theirs):
            self._adopt(theirs, theirs, raw)
            return
        found = merge(self._saved, self._text, theirs)
        if found.disputed:
            self._conflict(found, theirs, raw)
        else:
            self._adopt(theirs, found.text, raw)

    def _adopt(self, saved: str, text: str, raw: bytes) -> None:
        self._seen, before = _hash(raw), self._text
        self._saved, self._outside, self._theirs, self._disputed = saved, "changed", "", ()
        if text != before:
            self._push(text, self._places(before, text), OUTSIDE)
        else:
            self._record()

    def _conflict(self, found: Merged, theirs: str, raw: bytes) -> None:
        self._seen = _hash(raw)
        self._outside, self._theirs, self._disputed = "conflict", theirs, found.disputed

    # --- history and journal --------------------------------------------------------------------------

    def _push(self, text: str, places: frozenset[Where], device: str) -> None:
        self._write_journal(text)  # first: what is not on disk is not acknowledged
        del self._steps[self._at + 1 :]
        self._steps.append(_Step(text, places, device, self._now()))
        while len(self._steps) > 2 and sum(len(step.text) for step in self._steps) > KEPT:
            del self._steps[0]
        self._at = len(self._steps) - 1
        self._version += 1

    def _move(self, by: int) -> State:
        if 0 <= self._at + by < len(self._steps):
            self._write_journal(self._steps[self._at + by].text)
            self._at += by
            self._version += 1
        return self.state

    def _record(self) -> None:
        self._write_journal(self._text)

    def _write_journal(self, text: str) -> None:
        with self._on_disk():
            self._journal.write(self._saved, text)

    def _resume(self) -> bool:
        """Take up the edits that earlier servers could not save; those that contradict ours wait for the next time."""
        found = False
        for number, edits in self._journal.left().items():
            if edits.text in (edits.base, self._text):
                self._journal.drop(number)
                continue
            if not found:
                self._begin(edits)
                found = True
                continue
            merged = merge(edits.base, edits.text, self._text)
            if self._outside != "conflict" and not merged.disputed:
                self._push(merged.text, self._places(self._text, merged.text), "")
                self._journal.drop(number)
        return found

    def _begin(self, edits: Edits) -> None:
        disk, raw = self._saved, self._raw() or b""
        self._saved = edits.base
        self._steps = [_Step(edits.base), _Step(edits.text, self._places(edits.base, edits.text), "", self._now())]
        self._at, self._version = 1, 2
        if disk != edits.base:
            merged = merge(edits.base, edits.text, disk)
            if merged.disputed:
                self._conflict(merged, disk, raw)
            else:
                self._adopt(disk, merged.text, raw)

    def _sweep(self) -> None:
        """Remove what a server that was killed in the middle of writing left lying; nobody else writes now."""
        for left in self._file.parent.glob(f".{glob.escape(self._file.name[:40])}.*"):
            if re.fullmatch(r"[a-z0-9_]{8}", left.name.rpartition(".")[2]):
                left.unlink(missing_ok=True)

    # --- helpers --------------------------------------------------------------------------------------

    def _places(self, before: str, after: str) -> frozenset[Where]:
        try:
            return frozenset(changes(before, after))
        except (EditError, KeyError):
            return frozenset()

    def _count(self) -> int:
        text, saved, count = self._edits
        if (text, saved) != (self._text, self._saved):
            text, saved = self._text, self._saved
            count = 0 if text == saved else max(1, len(self._places(saved, text)))
            self._edits = (text, saved, count)
        return count

    def _faults(self, text: str) -> tuple[Fault, ...]:
        try:
            settle(examine_text(text, str(self.path)))
        except BuildError as error:
            return error.faults
        return ()

    def _fault(self, text: str, where: Where, error: EditError) -> Fault:
        try:
            found = span(text, where)
        except EditError:
            found = None
        place = Place(str(self.path), *_line(text, found[0])) if found else Place(str(self.path))
        named = ".".join(where[1:] if folded(where[0]) == "parts" and len(where) > 1 else where) if where else ""
        return Fault(place, named, error.problem, error.expected, error.mend)

    def _refused(
        self, text: str, where: Where, before: tuple[Fault, ...], after: tuple[Fault, ...]
    ) -> tuple[Fault, ...]:
        """Faults that the new value has, and that were not there before."""
        known = {(fault.where, fault.problem) for fault in before}
        found = span(text, where)
        begin, end = (_line(text, found[0]), _line(text, found[1])) if found else ((0, 0), (0, 0))
        steps = where[1:] if folded(where[0]) == "parts" else where
        named = {folded(".".join(steps)), folded(".".join((*steps[:1], " ".join(steps[1:]))))}
        return tuple(
            fault
            for fault in after
            if (fault.where, fault.problem) not in known
            and (begin <= (fault.place.line, fault.place.column) <= end or folded(fault.where) in named)
        )

    def _on_disk(self) -> _Disk:
        return _Disk(self._file)


class _Changed(Exception):
    """The file changed in the moment of saving."""


class _Disk:
    """What the disk refuses, said in a sentence."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, OSError):
            reason = error.strerror or str(error)
            raise DeskError(
                f"{self.file.name} was not written ({reason}). Free some space, or see who may write in its folder."
            ) from error


def _hash(raw: bytes | None) -> str:
    return hashlib.sha256(raw).hexdigest() if raw is not None else ""


def _line(text: str, index: int) -> tuple[int, int]:
    return text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index)


def _plain(value: str | None) -> str | None:
    return None if value is None else " ".join(value.split())


def _same_place(a: Where, b: Where) -> bool:
    """``(parts, brick)`` and ``(parts, brick, from)`` are one, and so are two spellings of a group of keys."""
    first, second = (" ".join(place[:-1] if place[-1:] == ("from",) else place) for place in (a, b))
    return first == second
