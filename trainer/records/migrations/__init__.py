"""Steps from an older database of records to the present one, run by Alembic."""
