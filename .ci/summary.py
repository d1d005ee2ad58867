"""The last line of `.ci/run`: what the test runs counted, added up."""

import re
import sys
from collections import Counter
from pathlib import Path

status, seconds, *logs = sys.argv[1:]
counts: Counter[str] = Counter()
for log in logs:
    if Path(log).exists():
        last = [line for line in Path(log).read_text().splitlines() if line.strip()][-1:]
        for number, kind in re.findall(r"(\d+) (passed|failed|errors?|skipped)", "".join(last)):
            counts["error" if kind.startswith("error") else kind] += int(number)
if status != "0" and not (counts["failed"] or counts["error"]):
    counts["error"] = 1
order = ("failed", "passed", "skipped", "error")
counted = ", ".join(f"{counts[kind]} {kind}" for kind in order if counts[kind])
print(f" {counted} in {seconds}s ".center(80, "="))
