"""What free-text notes say of defects: which ones they name, and whether they tell of a part that can hurt somebody.

Words are looked for clause by clause. One that its clause denies ("no flash", "without burn marks") or says to be over ("flash
now gone") does not count. Notes are read in English.
"""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

FLASH_IN_ONE_PLACE: Final = "flash_in_one_place"
FLASH_EVERYWHERE: Final = "flash_everywhere"
FLASH: Final = "flash"  # of which the note does not say which of the two it is
# Of these somebody has said how often they are wear; FLASH lies between the first two.
WITH_A_CHANCE: Final = (
    FLASH_IN_ONE_PLACE, FLASH_EVERYWHERE, "burn", "short_shot", "sink_or_warp", "dimension", "detail", "drag", "surface",
)  # fmt: skip
# Told of as a hazard alone: nobody has said how often it is wear.
SHARP_EDGE: Final = "sharp_edge"  # .. not called flash
LOOSE_PART: Final = "loose_part"  # small parts that are loose or broken off

# What each kind of defect is called, as words within one clause; judgement.
_WORDS: Final = {
    FLASH: r"flash(?:es|ed|ing)?|burrs?",
    "burn": r"burn(?:s|t|ed|ing)?|diesel+ing|diesel effect|scorch(?:ed|ing)?",
    "short_shot": r"short[ -]?shots?|shorts|incomplete (?:fill|filling|parts?)|non-?fill",
    "sink_or_warp": r"sinks?(?: marks?)?|sinking|warp(?:s|ed|age|ing)?|distort(?:ed|ion)",
    "dimension": r"dimension(?:s|ally|al)?(?: \w+){0,3} "
    r"(?:drift(?:s|ed|ing)?|out|off|over|under|growing|grown|beyond|large|small|long|short)"
    r"|drift(?:s|ed|ing)? (?:in |of )?(?:size|dimensions?)|out of (?:tolerance|size|dimension)|(?:over|under)-?sized?|vestiges?",
    "detail": r"(?:loss of|losing|lost|loses|fading|faded|worn|soft|missing|poor|less) (?:\w+ )?"
    r"(?:details?|texture|gloss|grain|lettering|engraving)"
    r"|(?:details?|texture|gloss|grain|lettering|engraving)(?: \w+){0,3} "
    r"(?:lost|gone|loss|fades?|faded|fading|worn|missing|soft|patch(?:es|y)?|dull|weak|uneven|blurred|falling|low)"
    r"|dull (?:spots?|patch(?:es)?|areas?)",
    "drag": r"drag(?:s|ging|ged)?(?: marks?)?|sticks?|sticking|sticky|stuck|gall(?:ed|ing)|scuff(?:s|ed|ing)?",
    "surface": r"splay|silver streaks?|streaks?|flow (?:lines?|marks?)|(?:weld|knit)[ -]lines?|specks?|black spots?|discolou?r(?:ed|ation)"
    r"|off[ -]colou?r|colou?r (?:is |was )?(?:off|wrong|streaks?|shift|differs|difference|deviates|deviation)",
}  # fmt: skip
_HAZARDS: Final = {
    SHARP_EDGE: r"sharp (?:\w+ )?(?:flash|edges?|burrs?|points?|spikes?)|(?:flash|edges?|burrs?|points?|spikes?)(?: \w+){0,2} sharp",
    LOOSE_PART: r"(?:broken?|breaks|breaking|snapped|snaps|came|comes|coming|fell|falls|falling|chipped|torn)[ -]off"
    r"|loose (?:small )?(?:parts?|pieces?|bits?|pegs?|boss(?:es)?|wheels?|eyes?)"
    r"|(?:parts?|pieces?|bits?|pegs?|boss(?:es)?|wheels?|eyes?) (?:\w+ )?loose",
}  # fmt: skip
# Of a note on flash: one place, or growth, against all over or while the press is set up.
_ONE_PLACE: Final = (
    r"same (?:place|spot|cavity|corner|side|area)|one (?:place|spot|cavity|corner|side|area)|again|still|grow(?:s|n|ing)?|worse(?:ning)?"
    r"|parting[ -]lines?|shut-?offs?|cavity (?:no )?\w?\d+|corners?|inserts?|(?:core |ejector )?pins?|slides?|lifters?"
    r"|returns|returned|(?:comes|came) back"
)
_EVERYWHERE: Final = (
    r"everywhere|all (?:over|round|around|cavities|parts|sides)|every cavity|first shots?|start(?:ing)?[ -]?up|at (?:the )?start"
    r"|set(?:ting)?[ -]?up|over-?pack(?:ed|ing)?|low clamp(?:ing)?|clamp(?:ing)? (?:force )?(?:too )?low|hot melt|melt (?:too )?hot"
)
_NONE_OF_IT: Final = re.compile(r"\s*[:;,]\s*(?:none|nil|ok|okay)\b")  # "flash: none" as "flash ok"
_CLAUSES: Final = re.compile(r"[.;,:!?()\n/]+|\s-+\s|\bbut\b|\bhowever\b|\bthough\b")
_DENIED: Final = re.compile(
    r"(?:\b(?:no|without|free (?:of|from)|clear of|neither|nor|never|zero)\b"
    r"(?!\s(?:more than|change|better|improvement|worse|difference|effect|help|hold))(?:\s(?!and\b)\w+){0,4}"
    r"|\b(?:not|isn t|doesn t)(?:\s\w+)?)\s$"
)
_OVER: Final = re.compile(
    r"^(?:[ -]free\b|(?:\s(?!(?:not|never|to|be|must|should|can|cannot|needs?|until|no)\b)\w+){0,5}"
    r"\s(?:gone|went|cured|fixed|solved|resolved|disappeared|eliminated|ok|okay)\b)"
)


def _whole(words: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{words})\b")


_DEFECTS: Final = {kind: _whole(words) for kind, words in _WORDS.items()}
_DANGERS: Final = {kind: _whole(words) for kind, words in _HAZARDS.items()}
_PLACE, _ALL_OVER = _whole(_ONE_PLACE), _whole(_EVERYWHERE)


@dataclass(frozen=True, slots=True)
class Told:
    """What a note tells.

    Parameters
    ----------
    defects : tuple of str
        Kinds of defect in the order of the table of words, then hazards that are none of these.
    hazard : bool
        Whether it tells of sharp flash or edges, or of parts that are loose or broken off.
    """

    defects: tuple[str, ...]
    hazard: bool


@lru_cache(maxsize=4096)
def read_note(text: str) -> Told:
    """What a note tells of defects; nothing where it names none."""
    plain = _NONE_OF_IT.sub(" ok", text.casefold().replace("'", " ").replace("\N{RIGHT SINGLE QUOTATION MARK}", " "))
    clauses = [" ".join(clause.split()) for clause in _CLAUSES.split(plain)]
    found = [kind for kind, words in _DEFECTS.items() if any(_stands(words, clause) for clause in clauses)]
    dangers = [kind for kind, words in _DANGERS.items() if any(_stands(words, clause) for clause in clauses)]
    named = [kind for kind in dangers if kind != SHARP_EDGE or FLASH not in found]
    if FLASH in found:
        found[found.index(FLASH)] = _kind_of_flash(" ".join(plain.split()))
    return Told((*found, *named), bool(dangers))


def _stands(words: re.Pattern[str], clause: str) -> bool:
    """Whether a clause names a defect that it neither denies nor says to be over."""
    return any(not _DENIED.search(clause[: m.start()]) and not _OVER.search(clause[m.end() :]) for m in words.finditer(clause))


def _kind_of_flash(text: str) -> str:
    """Which flash a note tells of; words for both, or for neither, leave it open."""
    one_place, everywhere = bool(_PLACE.search(text)), bool(_ALL_OVER.search(text))
    if one_place == everywhere:
        return FLASH
    return FLASH_IN_ONE_PLACE if one_place else FLASH_EVERYWHERE
