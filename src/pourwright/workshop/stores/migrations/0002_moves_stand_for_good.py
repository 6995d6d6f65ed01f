"""The database itself refuses to change or delete what the ledger has written."""

from django.db import migrations

SQLITE = [
    f"""
    CREATE TRIGGER move_never_{verb}d BEFORE {verb.upper()} ON stores_move
    BEGIN SELECT RAISE(ABORT, 'a move is never {verb}d; undo its entry instead'); END
    """
    for verb in ("update", "delete")
]
POSTGRESQL = [
    """
    CREATE FUNCTION move_stands() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN RAISE EXCEPTION 'a move is never changed; undo its entry instead'; END $$
    """,
    """
    CREATE TRIGGER move_never_changed BEFORE UPDATE OR DELETE ON stores_move
    FOR EACH ROW EXECUTE FUNCTION move_stands()
    """,
]


def guard(apps, schema_editor):
    statements = SQLITE if schema_editor.connection.vendor == "sqlite" else POSTGRESQL
    for statement in statements:
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("stores", "0001_initial")]
    operations = [migrations.RunPython(guard, migrations.RunPython.noop)]
