"""What was noticed in records: told by kind, the gravest first, and one by one to take away."""

from collections.abc import Sequence
from typing import Final

import streamlit as st

from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.unbroken import escape
from wearfit.workflow.finding_groups import COLUMNS, KINDS, FindingGroup, finding_table, grouped, is_unread, rows_said
from wearfit.workflow.hand_over import Look
from wearfit.workflow.wording import count, cut

FIRST_GROUPS: Final = 8
MOST_LIKE_IT: Final = 100  # of one kind that are told one by one; the table has all
LONGEST_VALUE: Final = 80


def findings_section(seen: Look) -> None:
    """Draw the filter, the list and the table."""
    st.header("What was set aside, and why", anchor="findings")
    if seen.before:
        st.caption(f"{count(seen.before, 'finding', 'findings')} on the stored records stand as before and are not repeated here.")
    if not seen.findings:
        st.write("Nothing was set aside or repaired, and nothing else was noticed.")
        return
    number = {severity: sum(f.severity == severity for f in seen.findings) for severity, _, _ in KINDS}
    rows = sum(table.set_aside for table in seen.tables.values())
    parts = [
        (rows, "row was set aside", "rows were set aside"),
        (number["repaired"], "thing was used after a repair", "things were used after a repair"),
        (number["note"], "is used as it is, with a note", "are used as they are, with a note"),
    ]
    said = "; ".join(count(n, one, many) for n, one, many in parts if n) or "Parts of the files were not read"
    st.html(f'<p class="wf-lead">{escape(said)}.</p>')
    tables = list(dict.fromkeys(finding.table for finding in seen.findings))
    with st.container(horizontal=True, gap="medium", key="finding_filters"):
        kinds = st.multiselect(
            "What became of it",
            [severity for severity, _, _ in KINDS if number[severity]],
            format_func=lambda severity: next(f"{name} ({number[severity]:,})" for s, name, _ in KINDS if s == severity),
            placeholder="All",
            key="finding_kinds",
        )
        chosen = st.multiselect("Table", tables, placeholder="All", key="finding_tables")
    shown = [f for f in seen.findings if (not kinds or f.severity in kinds) and (not chosen or f.table in chosen)]
    if not shown:
        st.write("No finding fits the filter. Take one of its choices away.")
        return
    groups = grouped(shown)
    _list(groups[:FIRST_GROUPS])
    if len(groups) > FIRST_GROUPS:
        with st.expander(f"{count(len(groups) - FIRST_GROUPS, 'more kind', 'more kinds')} of findings"):
            _list(groups[FIRST_GROUPS:])
    in_numbers(Numbers("findings", COLUMNS, finding_table(shown)), "What was noticed, one row a finding.", "findings", workbook=True)


def _list(groups: Sequence[FindingGroup]) -> None:
    st.html(f'<ul class="wf-findings">{"".join(_item(group) for group in groups)}</ul>')


def _item(group: FindingGroup) -> str:
    first = group.first
    name, meaning = next((name, meaning) for severity, name, meaning in KINDS if severity == first.severity)
    meaning = "not read" if is_unread(first) else meaning
    where = ", ".join(filter(None, (first.table, first.column or "", rows_said(group.rows))))
    source = f" of {first.source}" if first.source and first.source != first.table else ""
    value = f'<span class="wf-value">{escape(cut(first.value, LONGEST_VALUE))}</span>' if first.value and len(group.findings) == 1 else ""
    like = ""
    if len(group.findings) > 1:
        others = "".join(
            f"<li>{escape('' if f.row is None else f'Row {f.row:,}: ')}{escape(f.problem)}</li>" for f in group.findings[1:MOST_LIKE_IT]
        )
        left = len(group.findings) - MOST_LIKE_IT
        more = f"<li>{left:,} more are in the table.</li>" if left > 0 else ""
        like = f"<details><summary>{len(group.findings) - 1:,} more like it</summary><ul>{others}{more}</ul></details>"
    return (
        f'<li><div class="wf-became"><strong>{escape(name)}</strong> <span>{escape(meaning)}</span></div>'
        f'<div><div class="wf-where">{escape(where)}{escape(source)} {value}</div>'
        f"<div>{escape(first.problem)}</div><div>{escape(first.repair)}</div>{like}</div></li>"
    )
