"""A page of the app without a browser: it says to the server what the browser's script would, and draws nothing."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from types import TracebackType
from typing import Final, Self
from urllib.parse import parse_qsl, urlencode

from frames import Frames
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Button_pb2 import Button
from streamlit.proto.ClientState_pb2 import ClientState
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.NumberInput_pb2 import NumberInput
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.asyncio.client import ClientConnection, connect

LOOK_EVERY_SECONDS: Final = 0.02


@dataclass
class Drawn:
    """Fields for numbers, and buttons, of a page, by label."""

    fields: dict[str, NumberInput] = field(default_factory=dict)
    buttons: dict[str, Button] = field(default_factory=dict)


@dataclass
class PageAlone:
    """One page.

    Parameters
    ----------
    url : str
        Of the app, `http://...`.
    name : str
        Of the page, as its address ends.
    query : str
        What the address asks.

    Notes
    -----
    Parts of the page that come back by themselves do so as in the browser: every so many seconds until the whole script runs again or the
    server says that the part is gone. What was typed into a field is forgotten when a run leaves the field out, as the browser does; a
    value that was never set is not sent, and the server then keeps what it began with.
    """

    url: str
    name: str
    query: str = ""
    frames: Frames = field(default_factory=Frames)
    _shown: Drawn = field(default_factory=Drawn)  # by the last run of the script that ended
    _under_way: Drawn = field(default_factory=Drawn)
    _typed: dict[str, int] = field(default_factory=dict)
    _script: str = ""
    _again: dict[str, asyncio.Task[None]] = field(default_factory=dict)

    async def __aenter__(self) -> Self:
        address = self.url.replace("http://", "ws://") + "/_stcore/stream"
        self._server: ClientConnection = await connect(address, subprotocols=["streamlit"], max_size=None, compression=None)  # type: ignore[list-item]
        self._listening = asyncio.create_task(self._listen())
        await self._run()
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._stop_coming_back()
        self._listening.cancel()
        await self._server.close()

    async def type_in(self, label: str, number: int, seconds: float) -> None:
        """Type a number into a field once it is there; the address has it too where the field is bound to it."""
        await self._until(lambda: label in self._shown.fields, seconds)
        drawn = self._shown.fields[label]
        self._typed[drawn.id] = number
        if drawn.query_param_key:
            self.query = urlencode(dict(parse_qsl(self.query)) | {drawn.query_param_key: str(number)})
        await self._run()

    async def press(self, label: str, seconds: float) -> None:
        """Press a button once it is there and can be pressed."""
        await self._until(lambda: label in self._shown.buttons and not self._shown.buttons[label].disabled, seconds)
        await self._run(pressed=self._shown.buttons[label].id)

    async def until_begun(self, seconds: float) -> None:
        """Wait for the answer that the page begins with."""
        await self._until(self.frames.shows_an_answer, seconds)

    async def until_answered(self, seconds: float) -> None:
        """Wait for the answer to the question."""
        await self._until(self.frames.answered.is_set, seconds)

    async def has_button(self, label: str) -> bool:
        return label in self._shown.buttons

    async def says(self) -> str:
        """What the last run of the script drew, for a message."""
        return " ".join(html for html in self.frames.drawn if not html.startswith("<style"))

    async def _until(self, there: Callable[[], bool], seconds: float) -> None:
        async with asyncio.timeout(seconds):
            while not there():
                if self._listening.done():
                    self._listening.result()
                    raise ConnectionError("The server closed the page.")
                await asyncio.sleep(LOOK_EVERY_SECONDS)

    async def _run(self, part: str = "", pressed: str = "") -> None:
        """Ask for a run of the script, or of a part of it that comes back."""
        state = ClientState(query_string=self.query, page_script_hash=self._script, page_name="" if self._script else self.name)
        state.widget_states.widgets.extend(WidgetState(id=name, int_value=value) for name, value in self._typed.items())
        if pressed:
            state.widget_states.widgets.append(WidgetState(id=pressed, trigger_value=True))
        if part:
            state.fragment_id, state.is_auto_rerun = part, True
        frame = BackMsg(rerun_script=state).SerializeToString()
        self.frames.went(frame)
        await self._server.send(frame)

    async def _listen(self) -> None:
        async for frame in self._server:
            message = ForwardMsg.FromString(frame)
            self._heed(message)
            self.frames.heard(message)

    def _heed(self, message: ForwardMsg) -> None:
        match message.WhichOneof("type"):
            case "new_session" if not message.metadata.run.fragment_ids:
                self._stop_coming_back()
                self._under_way = Drawn()
            case "navigation":
                self._script = message.navigation.page_script_hash
            case "page_info_changed":
                self.query = message.page_info_changed.query_string.removeprefix("?")
            case "delta":
                drawn = message.delta.new_element
                if drawn.WhichOneof("type") == "number_input":
                    self._under_way.fields[drawn.number_input.label] = drawn.number_input
                elif drawn.WhichOneof("type") == "button":
                    self._under_way.buttons[drawn.button.label] = drawn.button
            case "auto_rerun" if message.auto_rerun.fragment_id not in self._again:
                part = message.auto_rerun.fragment_id
                self._again[part] = asyncio.create_task(self._come_back(part, message.auto_rerun.interval))
            case "stop_auto_rerun":
                for part in message.stop_auto_rerun.fragment_ids:
                    if part in self._again:
                        self._again.pop(part).cancel()
            case "script_finished" if message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
                self._shown = self._under_way
                there = {drawn.id for drawn in self._shown.fields.values()}
                self._typed = {name: number for name, number in self._typed.items() if name in there}

    async def _come_back(self, part: str, seconds: float) -> None:
        while True:
            await asyncio.sleep(seconds)
            await self._run(part)

    def _stop_coming_back(self) -> None:
        for task in self._again.values():
            task.cancel()
        self._again.clear()
