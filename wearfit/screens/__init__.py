"""What the user sees: one file a screen, drawn with Streamlit, on answers that `wearfit.workflow` gives.

A screen
    is a file with `show()` and, at its end, `if __name__ == "__main__": show()`, so that a test can import it and the app runs it.
    It is an entry of `register.SCREENS` (title, file, the question it answers); what does not exist is not listed. A file is
    not to be named like a library: this folder comes first on the path of the running app.
    `show()` calls `shell.answering_screen("Fleet", body)`: the shell draws title, question and what the answers rest on, and calls
    `body(answering)` where a calibration answers; where none does, it says why and what to do. A screen that can do without one
    (Records) calls `shell.plain_screen(title, body)`, and its body takes how the app was started and where the store stands.
    A `Refusal` inside a body becomes its sentence and its repair.

Answers
    `answering` (an `Answering`: the calibration's version, the day asked about, what is accepted) is the key of every cached call;
    all of them are in `cached/`, and its front names them: `cached.current(answering)` is the calibration, loaded once a process,
    `cached.fleet(answering)` the forecast of the fleet. A call goes there with `@st.cache_resource` and gives frozen values. Its
    arguments say all that the answer rests on. Nothing that came from an upload is cached. A screen's script computes nothing else: a
    rerun is look-ups and drawing, which a test watches over.
    What may take longer than a moment is a job in a thread: `shell.ready(cached.fleet_job(answering), "Working out ...")`. A page
    about one tool asks for that tool alone. The job of an answer that rests on a user's own file is held by the session
    (`session.Planning`) and cached nowhere.
    What an answer needs from records or the store is a function of `wearfit/workflow/` that gives plain frozen values; words of
    numbers and risks are in `workflow/wording.py`, for the command and the screens alike.

Inputs (`told.py`)
    `ask_inputs(inputs, on_record, key)` draws a field for each `decisions.inputs.Input` and gives those alone that the user set. A field is
    empty where a default stands, which it shows; what is typed is in the address. Words of fields and what they read:
    `workflow/typed_inputs.py`. Sentences of calculators name options of the command: `workflow/choice_in_words.py:on_page` turns them.

Records (`records.py`)
    Files that were dropped are read in a thread of `cached.readers()`, by `workflow/hand_over.py:look`, and held by the user's session
    alone; `keep` stores them. `cached.recalibrations()` is the one object that all users share: recalibrations under way, by store. Their
    threads call nothing of Streamlit; the page asks them how they stand.

States (all drawn by `states.py`)
    no store; a store without records; records without a calibration; the last calibration did not pass and an older one answers, or
    none; an answer under way, refused or failed. `states.note(head, text, repair)` says anything else that must not be missed.

Look
    `look.py` has the colours and the charts' theme, `look.css` the rest. No colour says anything that no word or shape says; no
    gauge, no traffic light. `intervals.draw` is the interval chart: early, likely, late, with words beside;
    `intervals.scale_over` makes it an even scale. Other charts go through `figures.figure`, which asks for an
    alternative text and folds the numbers below, as a table with its CSV (`figures.held_figure` where putting it together takes long);
    what is drawn otherwise has `figures.in_numbers`. A link within the app is `ways.way`, which keeps the session. Text from
    records goes into HTML through `html.escape`, into Markdown through `shell.escape_markdown`.

The user
    `session.of_user()` is the typed object for what one user has chosen, over `st.session_state`. What belongs to the page itself
    (filters, the tool) is bound to the address: `bind="query-params"`. Leaving the page takes it out of the address, so that the day,
    which stays (`asked_day.py`), and the tool of its own page (`tool.ASKED`) are not bound.
    A field that begins with a value of the server's gets it through `filled.py`, never by writing to `st.session_state`: a browser that is
    late would not take it.

Tests: `tests/screens`, with AppTest through `app.py`, over SCREENS; `tests/browser` looks at them in a real browser.
"""
