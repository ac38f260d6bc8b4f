"""Text on the page as it is written, whatever it is made of."""

import pytest

from wearfit.screens.shell import escape_markdown


@pytest.mark.parametrize(
    ("text", "escaped"),
    [
        ("What is the column 'Werkzeug-Nr.' of tools?", "What is the column 'Werkzeug-Nr.' of tools?"),
        ("'Zykluszeit (s)', ended_on: 100 % + 5", "'Zykluszeit (s)', ended_on: 100 % + 5"),
        ("**bold** [here](http://x.example) :smile: $x^2$", r"\*\*bold\*\* \[here\](http\://x.example) \:smile: \$x\^2\$"),
        ("_so_ `code` ~~gone~~ a|b <b> \\", r"\_so\_ \`code\` \~\~gone\~\~ a\|b \<b\> \\"),
        ("# 1", r"\# 1"),
        ("- 1", r"\- 1"),
        ("12. of 3.", r"12\. of 3."),
    ],
)
def test_only_what_would_be_markup_is_marked(text: str, escaped: str):
    assert escape_markdown(text) == escaped
