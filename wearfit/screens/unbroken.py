"""Text as a page takes it: what belongs together on one line, and what one types set apart."""

import html
import re


def escape(text: str) -> str:
    """Text for HTML, whose per cent signs stay beside their numbers."""
    return html.escape(text).replace(" %", "&nbsp;%")


def with_commands(text: str) -> str:
    """The same, in which what stands between backquotes is set as what one types."""
    return re.sub(r"`([^`]+)`", r"<code>\1</code>", escape(text))
