"""Alembic's scripts. A new one, from a Python prompt at the repository's root, after `schema.py` was changed:

    from alembic import command
    from wearfit.store.address import address_of
    from wearfit.store.opening import open_database
    from wearfit.store.upgrade import alembic_config
    with open_database(address_of("scratch.db"), must_exist=False).writing() as connection:
        command.revision(alembic_config(connection), "what changes", autogenerate=True, rev_id="0007")

Then `HEAD` in `schema.py` is set to the new revision; the tests compare both with the tables.
"""
