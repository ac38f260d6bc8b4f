"""The app: registers the screens; nothing else."""

import streamlit as st

st.set_page_config(page_title="wearfit")
st.title("wearfit")
st.write(
    "The screens are not built yet. The answers are there on the command line: `wearfit forecast`, `wearfit next-run` and "
    "`wearfit plants`, after `wearfit recalibrate` on a folder of records or `wearfit demo`."
)
