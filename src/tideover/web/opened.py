"""A build that is open on the screen: its text, the network of that text, and every answer so far."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace

from tideover.answers.base import QUESTIONS, Answer
from tideover.answers.cautions import for_network
from tideover.answers.context import Context
from tideover.answers.flows import Flow, flows
from tideover.answers.sheet import ANSWERS, answerer
from tideover.design import BuildError, Fault, examine_text
from tideover.network import Network, settle
from tideover.web import lately, view
from tideover.web.desk import Change, Desk, State
from tideover.web.live import Live
from tideover.web.places import Place
from tideover.web.work import QUICK, Progress, Work


@dataclass(frozen=True)
class Drawing:
    """What one text of the build gives at once.

    Attributes
    ----------
    version : int
        Of the text.
    network : Network or None
        None where the text has faults.
    faults : tuple of Fault
        All of them.
    written : dict of str to Answer
        Quick answers, for the build as written.
    flows : tuple of Flow
        What flows in every standing state.
    cautions : tuple of str
        That the build calls for.
    """

    version: int
    network: Network | None = None
    faults: tuple[Fault, ...] = ()
    written: dict[str, Answer] = field(default_factory=dict)
    flows: tuple[Flow, ...] = ()
    cautions: tuple[str, ...] = ()


class Opened:
    """One open build.

    Parameters
    ----------
    place : Place
        Where it is. [-]
    live : Live
        Who is told when something changes. [-]
    """

    def __init__(self, place: Place, live: Live) -> None:
        self.place = place
        self.live = live
        self.desk = Desk(place.file)
        self.work = Work(self._answered, self._progressed)
        self.now = Drawing(-1)
        self.before: dict[str, Answer] = {}
        """Answers of before the last edit, for questions that are not answered again yet."""
        self.saved: dict[str, Answer] = {}
        """Answers of the file as saved, with all corners."""
        self.saved_written: dict[str, Answer] = {}
        """First look at the file as saved: like is compared with like."""
        self._full: dict[str, Answer] = {}
        self._version = -1
        self.halted = False
        """Whether slow answers were stopped by hand."""
        self._lock = threading.RLock()
        self._catching = threading.Lock()

    # --- what changes it ---------------------------------------------------------------------------

    def catch_up(self) -> Drawing:
        """Answer the quick questions for the text as it is now, and begin with the others; told to every browser."""
        with self._catching:
            state = self.desk.state
            if state.version == self.now.version:
                return self.now
            drawn = self._draw(state)
            written = drawn.written
            if state.text != state.saved and not self.saved_written:  # edits of an earlier session were kept
                written = self._draw(replace(state, text=state.saved)).written
            with self._lock:
                self.now = drawn
                self.before |= self._full
                self._full = {}
                self._version = state.version
                if state.text == state.saved or not self.saved_written:
                    self.saved_written = written
            if drawn.network is not None and not self.halted:
                self.work.start(state.version, state.text, self.place.file)
            else:
                self.work.cancel()
        self.live.publish(self.place.key, "version", str(state.version))
        return self.now

    @property
    def caught_up(self) -> bool:
        """Whether the quick answers are those of the text as it is now."""
        return self.now.version == self.desk.state.version

    @property
    def stand(self) -> str:
        """How far it is; a page that was made at another stand is renewed."""
        with self._lock:
            return f"{self.now.version}.{len(self._full)}"

    def look(self) -> None:
        """See whether the file was changed outside, and tell every browser."""
        before = self.desk.state
        after = self.desk.look()
        if (before.outside, before.version, before.saved) != (after.outside, after.version, after.saved):
            self.live.publish(self.place.key, "outside", after.outside)
            self.catch_up()

    def change(self, where: tuple[str, ...], value: str | None, seen: str | None, who: str = "") -> Change:
        """Put a value into the text; see `Desk.change`."""
        change = self.desk.change(where, value, seen, who)
        return change

    def keep_saved(self) -> None:
        """The text as it is was saved: what it answers is what the file answers."""
        with self._lock:
            self.saved, self.saved_written = dict(self._full), dict(self.now.written)

    def halt(self) -> None:
        """End what is under way; what was answered stays, and the first look goes on with every edit."""
        self.halted = True
        self.work.cancel()

    def go_on(self) -> None:
        """Take up what was ended."""
        with self._lock:
            self.halted = False
            missing = [key for key in ANSWERS if key not in self._full]
            state = self.desk.state
        if missing and self.now.network is not None:
            self.work.start(state.version, state.text, self.place.file, missing, again=True)

    def close(self) -> None:
        """End what is under way."""
        self.work.close()

    # --- what it shows -----------------------------------------------------------------------------

    def answers(self) -> dict[str, Answer]:
        """The best answer there is to each question of the text as it is, in the order of the sheet."""
        with self._lock:
            found = self.now.written | self._full
            return {key: found[key] for key in ANSWERS if key in found}

    def section(self, key: str) -> view.Section:
        """One question as it stands."""
        with self._lock:
            state = self.desk.state
            written, full = self.now.written.get(key), self._full.get(key)
            edited = state.text != state.saved
            saved, before = (self.saved.get(key), self.saved_written.get(key)) if edited else (None, None)
        try:
            if full is not None:
                return view.section(key, view.FULL, full, written, saved)
            if written is not None:
                return view.section(key, view.WRITTEN, written, None, before)
            return view.section(key, view.PENDING, self.before.get(key))
        except Exception as error:  # ours; it ends this question and no other
            return view.broken(key, error)

    def working(self) -> str:
        """What is under way, in words; empty when everything is answered."""
        done = len(self._full)
        if self.now.network is None or done >= len(QUESTIONS):
            return ""
        said = f"{done} of {len(QUESTIONS)} questions answered with all corners"
        if self.halted:
            return f"{said}; stopped"
        pieces, every = self.work.sampled
        return f"{said}; {pieces} of {every} pieces of the sampling done" if 0 < pieces < every else said

    def _draw(self, state: State) -> Drawing:
        draft = examine_text(state.text, str(self.place.file))
        try:
            network = settle(draft)
        except BuildError as error:
            return Drawing(state.version, None, error.faults)
        context = Context(network, ())
        written = {key: answerer(key)(context) for key in QUICK}
        return Drawing(state.version, network, (), written, flows(context), for_network(network))

    def _answered(self, version: int, answer: Answer) -> None:
        with self._lock:
            if version != self._version:
                return
            self._full[answer.key] = answer
            state = self.desk.state
            if state.text == state.saved and state.version == version:
                self.saved[answer.key] = answer
                whole = len(self._full) == len(ANSWERS)
            else:
                whole = False
        if whole:
            lately.keep(self.place.file, state.text, self.answers())
        self.live.publish(self.place.key, "answer", answer.key)

    def _progressed(self, version: int, progress: Progress) -> None:
        if version == self._version:
            self.live.publish(self.place.key, "progress", self.working())
