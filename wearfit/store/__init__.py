"""What is kept: uploads as they came, every version of every row, calibrations, settings. SQLite or PostgreSQL through SQLAlchemy."""
