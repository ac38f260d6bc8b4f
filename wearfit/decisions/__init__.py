"""What to do: each decision compares the cost of its actions over the draws of a forecast. Draws and costs come in, nothing else.

How a calculator is added:

1. One file here, one idea. It holds `INPUTS`, a tuple of `inputs.Input` (those that several calculators take stand in `inputs`) that
   begins with what matters first, for the page folds all but three away, and
   a pure function `costs_of(ahead, values) -> Costs` with costs of shape (action, sample, future), discounted to today by
   `costs.present_value`. `values["name"]` is a number. All luck comes from the draws (`ahead.luck`, by name and turn), so that actions
   that ask for the same names meet the same luck, and so do the inputs when they are tried. Refuse what cannot be with `Refusal`
   and status 2, saying what to change. An action is a phrase that can follow "Best:".
2. Draws: `forecasts/tool_ahead.py` (a live tool) or `forecasts/new_tool.py` (one yet to be cut: `log_life_of_copy` and
   `shots_to_end(turn, copy)` for copies that share all but the tool's own effect). A live tool that stands, moves or is modified has
   `stored_tool`, `at_plants` and `modifiable`. Others get a frozen dataclass in `forecasts/` with `samples`, `weights`, `on_record`
   (values of inputs that the records give, by the input's name) and `thinned`.
3. Beliefs on which the choice may hang, draw by draw: `beliefs.of_tool`, `beliefs.of_new`, or a function of its own that gives `Lever`s.
4. A `Decision` at the end of the file, named in `choices.DECISIONS`. A new subject gets an entry in `workflow/subjects.py:SUBJECTS`,
   which says what options it takes and which forecast makes its draws. The command, its options and its tables follow from these,
   and so do the form and the answer on the page Choices, and the tests that loop over DECISIONS.

`decide` fills in the inputs (the user's, else the records', else the default with its mark), costs the actions, counts the share of draws
in which each has the lowest expected cost, and tries every input and belief for what the choice hangs on. An input is tried between
`likely`, or from value / `doubt` to value x `doubt`; one with neither is not tried.
"""
