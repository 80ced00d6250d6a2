"""Fail where a suite that could have run was skipped: ``check_skips.py JUNIT.XML with-shared|without-shared``."""

# ruff: noqa: T201 - a script for the console prints

from __future__ import annotations

import sys
import xml.etree.ElementTree as ET

BENCHMARK = "Skipping benchmark"
REFERENCE = "the folder of reference cases"
# What a machine can't do; anything else that is skipped has to be looked at.
PLATFORM = ("of POSIX", "this system has no", "needs Linux", "needs the device")
SUITES = ("reference_cases", "shared_cases")


def main(path: str, shared: str) -> int:
    """Return 1, and say why, where a test was skipped for no allowed reason or a suite did not run."""
    present = shared == "with-shared"
    allowed = (BENCHMARK, *PLATFORM) if present else (BENCHMARK, *PLATFORM, REFERENCE)
    cases = list(ET.parse(path).iter("testcase"))  # noqa: S314 - written by our own pytest a moment ago
    skipped = [(case, case.find("skipped")) for case in cases]
    ran = [case.get("classname", "") for case, skip in skipped if skip is None]
    wrong = []
    for case, skip in skipped:
        reason = "" if skip is None else f"{skip.get('message', '')} {skip.text or ''}"
        if skip is not None and skip.get("type") != "pytest.xfail" and not any(text in reason for text in allowed):
            wrong.append(f"skipped: {case.get('classname')}::{case.get('name')}: {skip.get('message')}")
    if present:
        wrong += [f"no test of {suite} ran" for suite in SUITES if not any(suite in name for name in ran)]
    print(*wrong, f"{len(ran)} tests ran, {len(cases) - len(ran)} skipped", sep="\n")
    return 1 if wrong or not ran else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
