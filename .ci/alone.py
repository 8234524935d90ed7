"""Print the tests that failed in the last run, if a second try alone is fair to ask for.

Exit code 1 and nothing printed if it is not: too many, or one that drives no browser.
"""

import json
import sys
from pathlib import Path

MOST = 3
# These wait for other programs: browsers, and a file system behind one.
FOLDERS = ("tests/browser/", "tests/engines/", "tests/machine/", "tests/power/")


def main() -> int:
    """Read what pytest wrote down of its last run."""
    kept = Path(".pytest_cache/v/cache/lastfailed")
    failed = list(json.loads(kept.read_text("utf-8"))) if kept.exists() else []
    if not 0 < len(failed) <= MOST or not all(name.startswith(FOLDERS) for name in failed):
        return 1
    print("\n".join(failed))
    return 0


if __name__ == "__main__":
    sys.exit(main())
