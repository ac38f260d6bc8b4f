"""How quick a mould can be."""

from typing import Final

# The quickest moulds, of closures, take some two seconds a shot (common practice, from memory); the margin is a judgement.
FASTEST_S: Final = 1.5
MINUTE_S: Final = 60.0
