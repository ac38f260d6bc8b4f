"""The app, for `streamlit run app.py`."""

if __name__ == "__main__":  # the worker's process looks into this file as well, and is to start nothing
    from wearfit.screens.app import run

    run()
