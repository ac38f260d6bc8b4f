"""The command `wearfit`: which commands there are, and what becomes of their answers."""

import logging
import os
import sys
from collections.abc import Sequence
from typing import Final

from cyclopts import App, CycloptsError, Parameter

from wearfit import __version__
from wearfit.cli.output import Answer, give, refuse
from wearfit.errors import Refusal

COMMANDS: Final = (
    ("demo", "Make the demo's own store, calibrate on it, forecast its fleet and open the app."),
    ("template", "Write an empty workbook with every column explained."),
    ("rollup", "Draw press-cycle logs, one row a shot, together to runs; hourly air to climate."),
    ("check", "Read records and list everything that is noticed; nothing is stored."),
    ("recalibrate", "Store records and calibrate on everything that the store holds."),
    ("preview", "What the records that came since the calibration would change, at once, by weights."),
    ("calibrations", "List the calibrations of the store, or go back to one."),
    ("history", "Who did what when in the store; what it held then, and going back."),
    ("forecast", "When each live tool will wear out, and by when to order its replacement."),
    ("measure", "What to measure next, and by when to look at each tool."),
    ("next-run", "The chance that a tool wears out before a run is finished."),
    ("plants", "Plants compared by tool life and humidity exposure."),
    ("plan", "Renewals, spend, shortages and orders, month by month, over what is to be made."),
    ("choose", "The decision calculators: what each action costs, and which is the best."),
    ("backtest", "Would it have warned? Forecasts made at past days against what happened."),
    ("fit", "Do the records fit what the calibration believes of them? Misfits, each in a sentence."),
    ("moved", "Which records, and which beliefs, moved the forecasts?"),
    ("law", "Which law of wear do the records speak for?"),
    ("brief", "One page on one tool, as PDF, for who decides about it."),
    ("export", "Everything in the store as open files, to be read again by recalibrate."),
    ("worker", "The process that `recalibrate --keep-warm` leaves behind: see it, end it."),
    ("serve", "Open the app in the browser; Ctrl-C ends it."),
)
"""Each is the function of its name in the file of its name, which is loaded only where the command is used."""

app = App(
    name="wearfit",
    help="When will each injection mould wear out, calibrated with its own history.",
    version=__version__,
    suppress_keyboard_interrupt=False,
    default_parameter=Parameter(negative=(), show_default=False),
)
for _place, (_name, _help) in enumerate(COMMANDS):
    _function = _name.replace("-", "_")
    app.command(f"wearfit.cli.{_function}:{_function}", name=_name, help=_help, sort_key=_place)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process by default.
    """
    tokens = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in tokens
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(message)s")
    try:
        answer = app(tokens, exit_on_error=False, print_error=False, result_action="return_value")
        return give(answer, as_json) if isinstance(answer, Answer) else 0
    except Refusal as refusal:
        return refuse(refusal, as_json)
    except CycloptsError as error:
        return refuse(_wrong_use(error, tokens), as_json)
    except KeyboardInterrupt:
        return refuse(Refusal("Stopped.", "Run it again when it suits."), as_json)
    except BrokenPipeError:
        # The reader, such as `head`, has seen enough. Left as it is, Python would complain once more at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except Exception as error:
        logging.getLogger(__name__).exception("A fault of the program:")
        return refuse(Refusal(f"wearfit failed by a fault of its own: {error!r}.", "Report it with the lines above."), as_json)


def _wrong_use(error: CycloptsError, tokens: Sequence[str]) -> Refusal:
    known = [name for name, _ in COMMANDS]
    command = f" {tokens[0]}" if tokens and tokens[0] in known else ""
    return Refusal(" ".join(str(error).split()), f"See `wearfit{command} --help`.", 2)
