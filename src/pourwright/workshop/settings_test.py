"""Settings for the tests: as the program's own, on throw-away data in a real file."""

import os
import tempfile

os.environ["POURWRIGHT_DATA"] = os.environ.get("POURWRIGHT_TEST_DATA") or tempfile.mkdtemp(
    prefix="pourwright-test-"
)

from pourwright.workshop.settings import *  # noqa: F403
from pourwright.workshop.settings import DATA, DATABASES

ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", "testserver"]

# Background work is done in place: its process would not see what a test has not committed.
JOBS_IN_PLACE = True
# A burn that is lit keeps its forecast, but no test waits for its values unless it asks for them.
FORECAST_WHEN_LIT = False

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, not memory: threads and processes meet the same locks as in the workshop.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA / "test.sqlite3")}
    # Nothing of it has to outlive a power cut: what must is tested on the program's own settings.
    OPTIONS = DATABASES["default"]["OPTIONS"]
    start_up = OPTIONS["init_command"].replace("synchronous=FULL", "synchronous=OFF")
    DATABASES["default"]["OPTIONS"] = {**OPTIONS, "init_command": start_up}
