"""The record tables are those that the outside may rely on."""

import pytest

from wearfit.records.cells import canonical
from wearfit.records.columns import Table
from wearfit.records.names import plain_name
from wearfit.records.tables import TABLES

PROMISED = {
    "tools": "tool_id service_class band_low band_high design_id maker_id cavities cavity_steel hardness_hrc commissioned_on opening_shots "
    "opening_life_shots history_from plant_id coating cycle_time_s shots_per_month replacement_cost refurbish_cost lead_time_weeks",
    "runs": "tool_id plant_id resin_id started_on ended_on shots parts active_cavities scrap_parts cycle_time_s setups",
    "counter": "tool_id date counter_shots",
    "events": "tool_id date event cause last_good_on back_on plant_id preserved renewed_share shots_at due_on cost note",
    "readings": "tool_id date feature value limit new_value resolution",
    "plants": "plant_id latitude longitude coolant_temp_c chloride_mg_m2_day so2_mg_m2_day conditioned",
    "climate": "plant_id month timestamp temp_c rh_pct place",
    "resins": "resin_id family filler_pct filler_kind corrosive",
    "plan": "month tool_id design_id shots units plant_id resin_id product_id",
    "bill": "product_id design_id parts_per_unit",
    "aliases": "old_tool_id tool_id since",
}

each_table = pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)


def test_every_promised_table_and_column_is_there_and_no_other():
    assert {name: set(table.names) for name, table in TABLES.items()} == {name: set(columns.split()) for name, columns in PROMISED.items()}


def test_only_tools_runs_and_events_are_required():
    assert {name for name, table in TABLES.items() if table.required} == {"tools", "runs", "events"}


@each_table
def test_every_column_is_explained(table: Table):
    assert table.meaning.endswith(".")
    for column in table.columns:
        assert column.meaning.endswith("."), column.name
        if column.kind in ("number", "count", "value"):
            assert column.unit, column.name
            assert column.low is not None and column.high is not None, f"{column.name} must not be drowned by a slip"


@each_table
def test_columns_cannot_be_taken_for_one_another(table: Table):
    plain = [plain_name(name) for name in table.names]
    assert len(set(plain)) == len(plain)


@each_table
def test_keys_and_alternatives_are_columns_and_no_key_can_be_blank_altogether(table: Table):
    named = {*table.key, *(name for group in table.one_of for name in group)}
    assert named <= set(table.names)
    alternatives = {name for group in table.one_of for name in group}
    assert any(table.column(name).required for name in table.key) or alternatives & set(table.key)


@each_table
def test_words_and_defaults_are_canonical(table: Table):
    for column in table.columns:
        assert (column.kind == "choice") == bool(column.choices)
        for text in (*column.choices, column.default):
            assert canonical(column, text) == text
