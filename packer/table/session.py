"""The session: what lies on the table, what the page asks for, and what follows from it.

Everything here runs in one thread. Pages, the search beside the table and tasks under way only put
posts into the queue.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from packer.errors import FigureError, PackerError
from packer.search.frame import frame_of
from packer.table import replies
from packer.table.changes import CHANGES, pinned
from packer.table.draft import ReferencePicture
from packer.table.message_queue import QueuedItem
from packer.table.messages import picture_kind
from packer.table.offers import SHOWN, BackgroundSearch
from packer.table.pictures import size_of
from packer.table.state import History, TableState, drafted, held, let_go, rested
from packer.table.wall import Wall, compared

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.table.draft import Draft
    from packer.table.message_queue import MessageQueue
    from packer.table.messages import Message
    from packer.table.offers import SearchReply
    from packer.table.project import Project

PICTURE_SIZE: Final = 560.0
"""Pixels of the mat that a fresh picture takes in its larger direction."""
SAME: Final = 1e-9
"""Relative gain below which an offer is no better."""


class Session:
    """One table.

    Parameters
    ----------
    state
        What lies on it first.
    wall
        Kept variants.
    project
        Saves, and does what leads on from here.
    queue
        Where the search beside the table puts what it tells.
    tell
        Called with what all pages should know.
    """

    def __init__(
        self,
        state: TableState,
        wall: Wall,
        project: Project,
        queue: MessageQueue,
        tell: Callable[[dict[str, Any]], None],
    ) -> None:
        self.history = History(rested(state))
        self.wall = wall
        self.project = project
        self.tell = tell
        self.before: TableState | None = None
        self.offers: dict[int, Packing] = {}
        self.last_offer = 0
        self.looking = ""
        self.bounds: dict[Problem, Bound] = {}
        self.search = BackgroundSearch(
            lambda told: queue.put(QueuedItem(0, lambda: self.heard(told)))
        )
        self.told_draft: object = None
        self.told_tree: object = None
        self.resting = False

    @property
    def state(self) -> TableState:
        """What is looked at."""
        return self.history.now

    # --- messages

    def receive(self, message: Message) -> None:
        """Do what a message asks for; what is wrong with it becomes a sentence on the page."""
        self.attempt(lambda: self._do(message))
        self.tell_state(message.number)

    def attempt(self, work: Callable[[], None]) -> None:
        """Do something; what is refused becomes a sentence on the page."""
        try:
            work()
        except PackerError as error:
            self.tell({"kind": "sentence", "text": str(error)})

    def _do(self, message: Message) -> None:
        values, kind = message.values, message.kind
        if kind in CHANGES:
            self._change(lambda draft: CHANGES[kind](draft, values), message.is_passing)
        else:
            getattr(self, f"_{kind}")(**values)

    def _change(self, change: Callable[[Draft], Draft], passing: bool = False) -> None:
        """Change the drawing; a pull under way changes what it was when the pull began."""
        before = self.before or self.state
        self._show(drafted(self.state, change(before.draft)), before, passing)

    def _show(self, state: TableState, before: TableState, passing: bool = False) -> None:
        """Look at another state: while a pull is under way, or as a step of the history."""
        if passing:
            self.before = before
            self.history = self.history.showing(state)
        else:
            self.before = None
            self.history = self.history.went_on(state, before)
        self._drop_offers()
        self.resting = False

    def picture(self, content: bytes) -> None:
        """Put a picture under the drawing."""
        self.attempt(lambda: self._lay(content))
        self.tell_state(0)

    def _lay(self, content: bytes) -> None:
        kind = picture_kind(content)
        size = max(size_of(content))
        name = f"picture-{hashlib.sha256(content).hexdigest()[:12]}.{kind}"
        self.project.folder.write({name: content})
        seen = ReferencePicture(name, scale=PICTURE_SIZE / size)
        self._change(lambda draft: replace(draft, picture=seen))

    # --- the sheet

    def _tip(self, name: str) -> int:
        frame = self.state.frame
        flaps = () if frame is None else frame.problem.tree.flaps
        if name not in flaps:
            raise FigureError(f'no tip on the sheet is called "{name}"')
        return flaps.index(name)

    def _hold(self, tip: str, at: tuple[float, float], phase: str) -> None:
        index, before = self._tip(tip), self.before or self.state
        state = held(self.state, index, at, before)
        if phase == "drop":
            state = let_go(state, index, before)
        self._show(state, before, phase == "move")

    def _pin(self, tip: str, to: str | None) -> None:
        frame, index = self.state.frame, self._tip(tip)
        if frame is not None:
            self._change(lambda draft: pinned(draft, frame, index, to))

    # --- back and forth

    def _undo(self) -> None:
        self._go(self.history.undone())

    def _redo(self) -> None:
        self._go(self.history.redone())

    def _back(self) -> None:
        """Put back what the pull under way has changed."""
        if self.before is not None:
            self._go(self.history.showing(self.before))

    def _go(self, history: History) -> None:
        self.before = None
        if history.now is not self.state:
            self.history = history
            self._drop_offers()
            self.resting = False

    # --- offers

    def heard(self, told: SearchReply) -> None:
        """Take what the search beside the table tells."""
        now = self.state.packing
        if told.bound is not None and now is not None:
            self.bounds[now.problem] = told.bound
            bounded = replace(now, bound=told.bound)
            self.history = self.history.showing(replace(self.state, packing=bounded))
            self.tell_state(0)
        elif told.packing is not None and now is not None:
            gain = told.packing.scale / now.scale - 1
            if gain > SAME or (self.looking == "gallery" and abs(gain) > SAME):
                self.last_offer += 1
                self.offers[self.last_offer] = told.packing
                self._tell_offers()
        elif told.packing is None:
            self.looking = ""
            self._tell_offers()

    def _gallery(self) -> None:
        packing = self._at_rest()
        self.offers = {}
        self.looking = "gallery"
        self.search.look(packing, several=True)
        self._tell_offers()

    def _take(self, card: int) -> None:
        packing = self._offer(card)
        self._show(TableState(self.state.draft, frame_of(packing), packing), self.state)

    def _leave(self, card: int) -> None:
        self._offer(card)
        del self.offers[card]
        self._tell_offers()

    def _offer(self, card: int) -> Packing:
        if card not in self.offers:
            raise FigureError("that offer is gone, since the figure has changed")
        return self.offers[card]

    def _drop_offers(self) -> None:
        if self.looking or self.offers:  # not at every frame of a pull
            self.search.look(None)
            self.looking = ""
            self.offers = {}
            self._tell_offers()

    def _tell_offers(self) -> None:
        now = self.state.packing
        best = sorted(self.offers, key=lambda card: -self.offers[card].scale)[:SHOWN]
        self.tell(
            {
                "kind": "offers",
                "looking": self.looking,
                "offers": []
                if now is None
                else [
                    {
                        "card": card,
                        "gain": replies.short(self.offers[card].scale / now.scale - 1),
                        **replies.picture_reply(self.offers[card]),
                    }
                    for card in best
                ],
            }
        )

    # --- the wall

    def _at_rest(self) -> Packing:
        """Return the packing at rest, letting the hand rest now if it has not yet."""
        self.rest()
        if self.state.packing is None:
            raise FigureError(self.state.sentence or "there is no packing yet")
        return self.state.packing

    def _keep(self, name: str) -> None:
        packing = self._at_rest()
        self._hang(self.wall.kept(name, self.state.draft, packing))

    def _call(self, card: int, to: str) -> None:
        self._hang(self.wall.called(card, to))

    def _forget(self, card: int) -> None:
        self._hang(self.wall.without(card))

    def _hang(self, wall: Wall) -> None:
        self.wall = wall
        self.tell_wall()
        self.project.keep(self.state, self.wall)

    def _restore(self, card: int) -> None:
        kept = self.wall.card(card)
        self._show(TableState(kept.draft, frame_of(kept.packing), kept.packing), self.state)

    def _compare(self, one: int, other: int) -> None:
        first, second = self.wall.card(one), self.wall.card(other)
        comparison = compared(first.packing, second.packing)
        reply = replies.comparison_reply(comparison, first, second)
        self.tell({"kind": "comparison", **reply})

    # --- on from here

    def _save(self) -> None:
        packing = self._at_rest()
        names = self.project.save(self.state.draft, packing)
        self.project.keep(self.state, self.wall)
        self.tell({"kind": "saved", "names": names, "folder": str(self.project.folder.path)})

    def _act(self, what: str, sheet: str, paper: str) -> None:
        packing = self._at_rest()
        self.project.start(what, self.state.draft, packing, sheet, paper)

    def _stop(self) -> None:
        self.project.stop()

    def _claim(self) -> None:
        """Another page draws from now on: the server has seen to it, and the reply shows all."""

    # --- rest, and what is told

    def rest(self) -> None:
        """Finish the packing once nothing waits, and search on from it."""
        if self.before is not None or self.resting:
            return
        self.resting = True
        self.attempt(self._rest)
        self.tell_state(0)
        self._tell_offers()

    def _rest(self) -> None:
        frame = self.state.frame
        bound = None if frame is None else self.bounds.get(frame.problem)
        self.history = self.history.showing(rested(self.state, bound))
        packing = self.state.packing
        self.project.keep(self.state, self.wall)
        if packing is not None:
            self.looking = "better"
            self.search.look(packing)

    def tell_all(self) -> None:
        """Tell everything, for a page that knows nothing yet."""
        self.told_draft = self.told_tree = None
        self.tell_state(0)
        self.tell_wall()
        self._tell_offers()
        self.project.tell_tasks()

    def tell_wall(self) -> None:
        """Tell what hangs on the wall."""
        self.tell({"kind": "wall", "cards": replies.card_replies(self.wall.cards)})

    def tell_state(self, number: int) -> None:
        """Tell the state; the drawing and the tree only where they are not what was told last."""
        state, frame = self.state, self.state.frame
        reply: dict[str, Any] = {"kind": "state", "number": number}
        tree = None if frame is None else frame.problem.tree
        known = (state.draft, state.sentence)
        if known != self.told_draft:
            reply["draft"] = replies.draft_reply(state.draft, state.sentence, tree)
            self.told_draft = known
        if frame is not None and tree is not None:
            if tree is not self.told_tree:
                reply["tree"] = replies.tree_reply(tree)
                self.told_tree = tree
            reply["frame"] = replies.frame_reply(frame, state.packing)
        headroom = None if state.packing is None else state.packing.headroom
        before = self.before or (self.history.past[-1] if self.history.past else None)
        reply["line"] = replies.line_reply(state, before, headroom)
        reply["undo"], reply["redo"] = bool(self.history.past), bool(self.history.future)
        reply["pulling"] = self.before is not None
        self.tell(reply)

    def end(self) -> None:
        """Let the hand rest, keep what is there, and end the processes beside the table."""
        self.search.end()
        self.project.end()
        if self.before is not None:
            self._back()
        self.history = self.history.showing(rested(self.state))
        self.project.keep(self.state, self.wall)
