"""Letters of the page: those that it says it can print it prints, the others are told."""

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from wearfit.report.letters import MOST_NUMBERS, lacking, letters, printable


def test_the_typeface_has_every_letter_that_is_said_to_be_in_it() -> None:
    every = "".join(map(chr, sorted(letters())))
    source = (
        '#set document(title: "x", date: none)\n#set text(lang: "en", font: "Libertinus Serif", fallback: false)\n'
        "#sys.inputs.text\n*#sys.inputs.text*"
    )
    fonts = typst.Fonts(include_system_fonts=False)
    # The standard forbids a letter without a form, and the typesetter refuses it.
    made = typst.compile(
        source.encode(), font_paths=fonts, ignore_system_fonts=True, sys_inputs={"text": every}, format="pdf", pdf_standards=["ua-1"]
    )
    assert isinstance(made, bytes)
    with pytest.raises(typst.TypstError, match="could not be displayed"):
        typst.compile(
            source.encode(), font_paths=fonts, ignore_system_fonts=True, sys_inputs={"text": "漢"}, format="pdf", pdf_standards=["ua-1"]
        )


@given(st.text())
def test_what_is_printed_has_only_letters_of_the_typeface_in_one_line(text: str) -> None:
    said = printable(text)
    assert {ord(sign) for sign in said} <= letters()
    assert said == " ".join(said.split())
    if len(text) <= MOST_NUMBERS:
        assert all(f"U+{ord(sign):04X}" in said for sign in lacking((text,)))


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("漢字 7", "‹U+6F22 U+5B57› 7"),
        ("القالب", "‹U+0627 U+0644 U+0642 U+0627 U+0644 U+0628›"),
        ("แม่", "‹U+0E41 U+0E21 U+0E48›"),
        ("T-漢a字", "T-‹U+6F22›a‹U+5B57›"),
        ("漢" * 40, f"‹{'U+6F22 ' * MOST_NUMBERS}and 28 more›"),
    ],
)
def test_letters_that_the_typeface_lacks_are_printed_as_their_numbers(name: str, printed: str) -> None:
    assert printable(name) == printed


@pytest.mark.parametrize("name", ["Łódź 3", "Größe", "Ñandú", "Форма-7", "Καλούπι", "תבנית", "<b>x</b>", "#panic()", "$1 & \\2 *a* _b_ @c"])
def test_names_in_usual_letters_are_printed_as_they_are(name: str) -> None:
    assert printable(name) == name
    assert lacking((name,)) == ()


def test_what_has_no_form_turns_no_text_round() -> None:
    assert printable("a\u202eb\u0000c\n  d\u200b") == "a b c d"
    assert lacking(("a\u202e漢😀", "漢")) == ("漢", "😀")
