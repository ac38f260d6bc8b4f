"""What the tables must say of each other, one file a subject."""
