"""What the user sees: one file a screen, drawn with Streamlit, on answers that `wearfit.workflow` gives.

A screen
    is a file with `show()` and, at its end, `if __name__ == "__main__": show()`, so that a test can import it and the app runs it.
    It is an entry of `register.SCREENS` (title, file, the question it answers); what does not exist is not listed. A file is
    not to be named like a library: this folder comes first on the path of the running app.
    `show()` begins with `with shell.screen("Fleet") as answering:`, and draws inside. `answering` is None where the screen needs a
    calibration and none answers: the shell has said so then, and the screen returns. A screen that can do without one (Records)
    passes `needs_calibration=False`. A `Refusal` inside the block becomes its sentence and its repair.

Answers
    `answering` (an `Answering`: number, day, what is accepted) is the key of every cached call; all of them are in `cached.py`:
    `cached.current(answering)` is the calibration, loaded once a process, `cached.fleet(answering)` the forecast of the fleet. A call
    goes there with `@st.cache_resource` and gives frozen values, or with `@st.cache_data` and gives copies. Its arguments say all that
    the answer rests on. Nothing that came from an upload is cached. A screen's script computes nothing else: a rerun is dictionary
    look-ups and drawing.
    What an answer needs from records or the store is a function of `wearfit/workflow/` that gives plain frozen values; words of
    numbers and risks are in `workflow/wording.py`, for the command and the screens alike.

States (all drawn by `states.py`)
    no store; a store without records; records without a calibration; the last calibration did not pass and an older one answers, or
    none; an answer that was refused; a fault. `shell.working("...")` is the sentence while something takes longer.

Look
    `look.py` has the colours and the type, `look.chart(...)` the chart's theme; CSS is in `look.css`. No colour says anything that
    no word or shape says; no gauge, no traffic light. Charts and tables are drawn by `figures.figure` and `figures.table` alone: both
    ask for an alternative text, and `figure` puts the numbers below as a table with its CSV.
    Downloads: `figures.downloads`.

The user
    `session.of_user()` is the typed object for what one user has chosen, over `st.session_state`.

Tests: `tests/screens`, with AppTest through `app.py`, over SCREENS; `tests/browser` looks at them in a real browser.
"""
