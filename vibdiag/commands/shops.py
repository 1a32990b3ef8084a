"""`vibdiag rules shops`: simulated shops, this tool beside the trade's usual order, a good checklist and chance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np

from vibdiag.advice.assess import Adviser
from vibdiag.case.storage import load_folder
from vibdiag.commands.output import input_errors, paragraph, print_json, say
from vibdiag.trial.cars import Car, disturbed, draw_cars
from vibdiag.trial.cars_of_cases import cars_of_cases
from vibdiag.trial.compare import UNSOLVED_MINUTES, Result, compare
from vibdiag.trial.interviews import Lengths, lengths
from vibdiag.trial.shops import Shop, checklist, random_order, this_tool, usual_order

__all__ = ["DISTURBED_BY", "compare_shops"]

DISTURBED_BY = 3.0


def compare_shops(folder: Path | None, *, cars: int, seed: int, rules: Path | None, as_json: bool) -> None:
    """Print how many minutes and wrong repairs each way of looking costs, on cars drawn in up to three ways."""
    with input_errors():
        adviser = Adviser.shipped(rules)
        trials = list(_trials(adviser, folder, cars, seed))
        found = {name: compare(drawn, shops, adviser.base) for name, drawn, shops in trials}
        talks = {name: lengths(drawn, adviser.base) for name, drawn, _ in trials}
    if as_json:
        print_json(
            {
                name: {"shops": [asdict(result) for result in results], "interview": asdict(talks[name])}
                for name, results in found.items()
            }
        )
    else:
        for line in _lines(found, talks):
            say(line)


def _trials(
    adviser: Adviser, folder: Path | None, count: int, seed: int
) -> Iterator[tuple[str, Sequence[Car], Mapping[str, Sequence[Shop] | Shop]]]:
    base = adviser.base
    random = np.random.default_rng(seed)
    yield "cars as the rule base has them", draw_cars(base, base.model, count, random), _shops(this_tool(), seed)
    other = disturbed(base.model, DISTURBED_BY, random)
    name = f"cars of which every number is off by up to a factor of {DISTURBED_BY:g}"
    yield name, draw_cars(base, other, count, random), _shops(this_tool(), seed)
    if folder is not None:
        like = cars_of_cases(adviser, [case for _, case in load_folder(folder)], random)
        if like:
            tools = [this_tool(told) for _, told in like]
            yield f"cars of the confirmed cases in {folder.name}", [car for car, _ in like], _shops(tools, seed)


def _shops(tool: Sequence[Shop] | Shop, seed: int) -> dict[str, Sequence[Shop] | Shop]:
    chance = random_order(np.random.default_rng(seed + 1))
    return {"this tool": tool, "the usual order": usual_order, "a good checklist": checklist, "by chance": chance}


def _lines(found: Mapping[str, Sequence[Result]], talks: Mapping[str, Lengths]) -> Iterator[str]:
    for name, results in found.items():
        yield f"{results[0].cars} {name}"
        heads = f"{'minutes':>8}{'95 %':>14}{'median':>8}{'steps':>7}{'wrong':>7}{'unsolved':>10}"
        yield f"  {'':18}{heads}  this tool needs"
        for one in results:
            spread = f"{one.minutes_interval.low:.0f} to {one.minutes_interval.high:.0f}"
            needs = ""
            if one is not results[0]:
                low, high = 1.0 / one.ratio_interval.high, 1.0 / one.ratio_interval.low
                needs = f"  {1.0 / one.ratio:.2f} of it ({low:.2f} to {high:.2f})"
            yield (
                f"  {one.shop:18}{one.minutes:8.0f}{spread:>14}{one.median_minutes:8.0f}{one.steps:7.1f}"
                f"{one.wrong:7.2f}{one.unsolved:10.0%}{needs}"
            )
        talk = talks[name]
        yield paragraph(
            f"At the desk, {talk.median:g} questions until the first three causes stay (half of the interviews "
            f"{talk.lower_quartile:g} to {talk.upper_quartile:g}); the true one is among them in "
            f"{talk.truth_in_three:.0%}.",
            indent="  ",
            first="  ",
        )
        yield ""
    yield paragraph(
        "Minutes: all steps, repairs and road tests until the shake is gone, and "
        f"{UNSOLVED_MINUTES:g} for a car that leaves unsolved. Wrong: repairs a car that changed nothing. What the "
        "cars would show is drawn from tables, not observed; the tool knows those tables, the others know the checks."
    )
