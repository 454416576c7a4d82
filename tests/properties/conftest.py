"""A table of what the fuzzing of the readers came to: cases, seconds, memory. `make long` prints it."""

import dataclasses
import json
from types import SimpleNamespace

import pytest

HEAD = (
    "| what | cases | read | refused | engine broke down | time | slowest case | most memory | result |",
    "|---|---|---|---|---|---|---|---|---|",
)
KEY = "fuzzing"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    """Every test that fuzzes leaves its tally with its report."""
    from tests.properties import fuzz_case  # not before the profile is chosen: it tells how many cases there are

    fuzz_case.tally.__init__()
    try:
        result = yield
        told = fuzz_case.tally
        said = f"{told.unsteady} of {told.broke} files that broke the engine were read by the process that reads for the program"
        assert fuzz_case.breaks_are_told(told.broke, told.unsteady), f"{said}; the last {told.said}"
        if getattr(item.module, "MANY_READ", False):
            assert fuzz_case.many_read(told.cases, told.read), f"only {told.read} of {told.cases} were read: the cases are too wild"
        return result
    finally:
        if fuzz_case.tally.cases:
            item.user_properties.append((KEY, json.dumps(dataclasses.asdict(fuzz_case.tally))))


def row(report: pytest.TestReport) -> str:
    """One line of the table."""
    told = SimpleNamespace(**json.loads(dict(report.user_properties)[KEY]))
    words = report.nodeid.split("::")[-1].removeprefix("test_").replace("_", " ")
    unsteady = f", {told.unsteady:,} not for the program" if told.unsteady else ""
    counts = f"{told.cases:,} | {told.read:,} | {told.refused:,} | {told.broke:,}{unsteady}"
    times = f"{report.duration:.0f} s | {told.slowest_s:.2f} s"
    return f"| {words} | {counts} | {times} | {told.most_bytes / 1e6:.0f} MB | {report.outcome} |"


def pytest_terminal_summary(terminalreporter, config):
    """The table, if the profile is the long one."""
    if config.getoption("--hypothesis-profile", default=None) != "long":
        return
    ended = [report for name in ("passed", "failed") for report in terminalreporter.getreports(name)]
    rows = sorted(row(report) for report in ended if KEY in dict(report.user_properties))
    for line in (*HEAD, *rows) if rows else ():
        terminalreporter.write_line(line)
