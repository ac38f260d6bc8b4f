"""What is kept: uploads as they came, every version of every row, calibrations, settings. SQLite through SQLAlchemy."""
