"""What people wrote down: tables, readers, identity and versions, and the one place where time is cut."""
