"""What passes between a page and the server, frame by frame: when a question went out, and when the script ended that answered it."""

import asyncio
import math
import time
from dataclasses import dataclass, field
from typing import Final

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from wearfit.workflow.run_in_words import shots_exactly

ANSWER: Final = 'class="wf-answer"'


def names_quantity(html: str, shots: int) -> bool:
    """Whether what a page drew is the answer to a run of so many shots, which its sentence names to the shot."""
    return ANSWER in html and f"the run of {shots_exactly(shots)} " in html


@dataclass
class Frames:
    """The frames of one page, and the question that is looked for in them.

    Parameters
    ----------
    shots : int
        That are asked about; 0 before the first question.
    sent, ended : float
        When the frame with the question went out, and when that came which ended the last run of the script, the answer among what it
        drew; nan until then. [s, of `time.perf_counter`]
    answered : Event
        Set with `ended`.
    drawn : list of str
        The HTML of the run of the script under way, or of the last one.
    runs : int
        Runs of the whole script that began since the question.

    Notes
    -----
    A run that says that an answer is under way has no answer among what it draws; the page comes back by itself, and the run after it
    counts. What is drawn is known from the frames, so that it does not matter when the browser gets round to drawing it.
    """

    shots: int = 0
    sent: float = math.nan
    ended: float = math.nan
    answered: asyncio.Event = field(default_factory=asyncio.Event)
    drawn: list[str] = field(default_factory=list)
    runs: int = 0

    def ask(self, shots: int) -> None:
        """The next frame to the server that holds so many shots is the question."""
        self.shots, self.sent, self.ended, self.runs = shots, math.nan, math.nan, 0
        self.answered.clear()

    @property
    def took(self) -> float:
        """[s]"""
        return self.ended - self.sent

    @property
    def stand(self) -> str:
        """How far the question has come, for a message."""
        sent = "never went out" if math.isnan(self.sent) else "went out"
        return f"the question of {self.shots} shots {sent}, and the script began {self.runs} times since it was typed"

    def shows_an_answer(self) -> bool:
        """Whether an answer is among what the script drew, to whatever question."""
        return any(ANSWER in html for html in self.drawn)

    def went(self, frame: bytes | str) -> None:
        """A frame to the server."""
        if not isinstance(frame, bytes) or not math.isnan(self.sent):
            return
        message = BackMsg.FromString(frame)
        if message.WhichOneof("type") == "rerun_script" and any(
            w.int_value == self.shots for w in message.rerun_script.widget_states.widgets
        ):
            self.sent = time.perf_counter()

    def came(self, frame: bytes | str) -> None:
        """A frame from the server."""
        if isinstance(frame, bytes):
            self.heard(ForwardMsg.FromString(frame))

    def heard(self, message: ForwardMsg) -> None:
        """The same, once it is read."""
        match message.WhichOneof("type"):
            case "new_session" if not message.metadata.run.fragment_ids:  # a run of a part of the page leaves the others as they are
                self.drawn.clear()
                self.runs += 1
            case "delta" if message.delta.new_element.WhichOneof("type") == "html":
                self.drawn.append(message.delta.new_element.html.body)
            case "script_finished" if message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
                if not math.isnan(self.sent) and math.isnan(self.ended) and any(names_quantity(html, self.shots) for html in self.drawn):
                    self.ended = time.perf_counter()
                    self.answered.set()
