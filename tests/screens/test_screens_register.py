"""The list of screens, and the file that the app is started from."""

import os
import subprocess
import sys
from pathlib import Path

from wearfit.screens.register import FOLDER, SCREENS, screen_of

ROOT = Path(__file__).resolve().parents[2]


def test_every_screen_exists_asks_a_question_and_has_an_address_of_its_own() -> None:
    for screen in SCREENS:
        assert screen.path.is_file()
        assert screen.answers.endswith("?")
        assert screen_of(screen.title) is screen
    assert len({screen.address for screen in SCREENS}) == len(SCREENS)
    assert SCREENS[0].in_menu


def test_no_file_of_the_screens_hides_a_library() -> None:
    """The running app has this folder first on its path."""
    hidden = {path.stem for path in FOLDER.glob("*.py")} & set(sys.stdlib_module_names)
    assert hidden == set()


def test_a_process_of_the_app_that_looks_into_its_file_starts_nothing() -> None:
    """The calibration's worker is spawned, and a spawned process runs the main file under another name."""
    program = (
        f"import runpy, sys\nrunpy.run_path({str(ROOT / 'app.py')!r}, run_name='__mp_main__')\n"
        "sys.exit('streamlit' in sys.modules or 'wearfit' in sys.modules)\n"
    )
    environment = {name: value for name, value in os.environ.items() if not name.startswith("WEARFIT_")}
    done = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
