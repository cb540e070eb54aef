"""Prints the measured agreement at the end of a run in which anything was judged."""

from __future__ import annotations

from . import cases, table


def pytest_terminal_summary(terminalreporter) -> None:
    for accuracy in cases.ACCURACIES:
        seen = [s[accuracy] for s in _kept(cases.judged_outage)]
        if table.answered(seen):
            name = "default accuracy" if accuracy is None else f"accuracy {accuracy:g}"
            terminalreporter.section(f"engine against judge, outages, {name}")
            for what, figure in table.rows(seen):
                terminalreporter.write_line(f"{what}: {figure}")
    standings = _kept(cases.judged_standing)
    if standings:
        terminalreporter.section("engine against judge, standing points")
        for what, figure in table.standing_rows(standings):
            terminalreporter.write_line(f"{what}: {figure}")


def _kept(function) -> list:
    """Results that a cached function has given in this run, without making it work again."""
    if not function.cache_info().currsize:
        return []
    before = function.cache_info().currsize
    out = []
    for seed in cases.SEEDS:
        if seed in cases.DONE[function.__name__]:
            out.append(function(seed))
    assert function.cache_info().currsize == before
    return out
