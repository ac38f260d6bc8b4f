"""Text as a page takes it, with what belongs together kept on one line."""

import html


def escape(text: str) -> str:
    """Text for HTML, whose per cent signs stay beside their numbers."""
    return html.escape(text).replace(" %", "&nbsp;%")
