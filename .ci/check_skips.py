"""Fail where a suite that could have run was skipped: ``check_skips.py JUNIT.XML with-shared|without-shared``."""

# ruff: noqa: T201 - a script for the console prints

from __future__ import annotations

import sys
import xml.etree.ElementTree as ET

BENCHMARK = "Skipping benchmark"
REFERENCE = "reference cases and open data"


def main(path: str, shared: str) -> int:
    """Return 1 and name the tests that were skipped for another reason than the allowed ones."""
    allowed = (BENCHMARK,) if shared == "with-shared" else (BENCHMARK, REFERENCE)
    ran, bad, referring = 0, [], 0
    for case in ET.parse(path).iter("testcase"):  # noqa: S314 - written by our own pytest a moment ago
        name = f"{case.get('classname')}::{case.get('name')}"
        skip = case.find("skipped")
        ran += skip is None
        referring += skip is None and "cases" in name
        reason = "" if skip is None else f"{skip.get('message', '')} {skip.text or ''}"
        if skip is not None and skip.get("type") != "pytest.xfail" and not any(text in reason for text in allowed):
            bad.append(f"{name}: {skip.get('message')}")
    for line in bad:
        print("skipped:", line)
    if shared == "with-shared" and not referring:
        print("no test of the reference cases ran, though their folder is there")
        return 1
    print(f"{ran} tests ran, {len(bad)} skipped that should have run")
    return 1 if bad or not ran else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
