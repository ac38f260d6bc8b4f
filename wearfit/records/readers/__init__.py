"""Readers of the forms in which people hand over records, one file a form."""
