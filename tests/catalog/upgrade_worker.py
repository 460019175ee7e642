"""Runs upgrades in processes that may be killed: one line of JSON (URL, folder) in, the process's id and its end out.

All is imported before the process for an upgrade is forked off, so that what is killed is the upgrade itself.
"""

import json
import os
import sys

import psycopg  # noqa: F401
import sqlalchemy.dialects.postgresql.psycopg  # noqa: F401

from catalog.migrate import upgrade


def main() -> None:
    """Serve until the input ends."""
    for line in sys.stdin:
        url, folder = json.loads(line)
        child = os.fork()
        if child == 0:
            status = 1
            try:
                upgrade(url, folder)
                status = 0
            finally:
                os._exit(status)
        print(child, flush=True)
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)


if __name__ == "__main__":
    main()
