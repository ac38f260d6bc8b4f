"""A page of the app in a browser, with the frames that pass between it and the server."""

import asyncio
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self

from frames import Frames
from playwright.async_api import Browser, WebSocket

from wearfit.workflow.run_in_words import shots_exactly


@dataclass
class PageInBrowser:
    """One page, in a context of its own: nothing is shared with other pages.

    Parameters
    ----------
    browser : Browser
    address : str
        Of the page.
    """

    browser: Browser
    address: str
    frames: Frames = field(default_factory=Frames)

    async def __aenter__(self) -> Self:
        self._own = await self.browser.new_context()
        self._page = await self._own.new_page()
        self._page.on("websocket", self._opened)
        await self._page.goto(self.address)
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        await self._own.close()

    async def type_in(self, label: str, number: int, seconds: float) -> None:
        """Type a number into a field once it is there."""
        field = self._page.get_by_label(label, exact=True)
        await field.fill(str(number), timeout=seconds * 1000)
        await field.press("Enter", timeout=seconds * 1000)

    async def press(self, label: str, seconds: float) -> None:
        """Press a button once it is there and can be pressed."""
        await self._page.get_by_role("button", name=label).click(timeout=seconds * 1000)

    async def until_begun(self, seconds: float) -> None:
        """Wait for the answer that the page begins with."""
        await self._page.locator(".wf-answer").wait_for(timeout=seconds * 1000)

    async def until_answered(self, seconds: float) -> None:
        """Wait until the answer is shown that names the quantity that was asked, and the frames tell when it came.

        Notes
        -----
        The page is looked at over and over: it may be drawn long after the script's last frame came, or a run or two later.
        """
        answer = self._page.locator(".wf-answer", has_text=f"the run of {shots_exactly(self.frames.shots)} ")
        await answer.wait_for(timeout=seconds * 1000)
        async with asyncio.timeout(seconds):
            await self.frames.answered.wait()

    async def has_button(self, label: str) -> bool:
        return await self._page.get_by_role("button", name=label).count() > 0

    async def says(self) -> str:
        """What is shown, for a message."""
        return await self._page.locator("[data-testid=stMain]").inner_text()

    def _opened(self, opened: WebSocket) -> None:
        opened.on("framesent", self.frames.went)
        opened.on("framereceived", self.frames.came)
