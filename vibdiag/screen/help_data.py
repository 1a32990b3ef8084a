"""Help that teaches the trade, one text a place; the keys stand in `keys.KEY_HELP`."""

from __future__ import annotations

__all__ = ["HELP"]

HELP: dict[str, tuple[str, ...]] = {
    "start": (
        "Every complaint is a case. A case is done when the shake is proven gone on the road, at the complaint's "
        "own speed and place, not when a part was replaced.",
        "What is due stands on top: fasteners are checked again after 50 to 100 km (common practice), and a call "
        "after a week tells whether it came back. d marks one of them as done.",
    ),
    "case": (
        "There is always one next step. It is the one that tells most per minute, for the people and tools at "
        "hand; what clears a danger comes before it.",
        "Ask as the words stand. Do not help the customer to an answer: don't know is a good answer, a guess is not.",
        "What was done last is often the cause, and is often not told: ask twice, home work and extras included.",
        "A shake that follows the road speed in every gear turns with the wheels or the shafts behind the "
        "gearbox. One that follows the engine is engine, mounts, accessories or exhaust. One that follows neither"
        " is a resonance or the road.",
        "Told is not measured: a workshop's verdict is an opinion. Mark how a result was got; told counts for less.",
    ),
    "causes": (
        "The bar is a probability over all causes known here. Decibans weigh one answer: 10 is ten to one, 3 is "
        "two to one; plus speaks for the cause, minus against.",
        "A cause that leads by a little is no reason to buy parts. See what single result would overturn it, and "
        "get that result.",
        "When what is known fits nothing well, the complaint was misunderstood or the cause is not in the rule "
        "base. Start again from the customer's own words.",
    ),
    "vehicle": (
        "A tyre of 225/45R17 turns about 14.4 times a second at 100 km/h. A propshaft turns faster by the axle "
        "ratio, a universal joint pushes twice a turn, a tripod joint three times.",
        "A dashboard reads high, by up to a tenth and 4 km/h, and never low (UN R39). Speeds from it are "
        "intervals, and so is everything computed from them.",
        "The wheel and axle on the tyre swing at 10 to 15 Hz, the steering wheel at 10 to 20, a person on a seat "
        "at 4 to 8 (common practice). A shake is worst where something turning meets one of these.",
        "Write a tyre as it stands on its sidewall; the line below says what it means, or which part is wrong. The "
        "table follows what is typed. Tab goes on, Enter or Space opens a choice, Ctrl+S keeps everything; an odometer "
        "may be written in miles, as 52000 mi.",
    ),
    "road": (
        "Hold speed after speed and let the passenger note the strength. Then the same speed in another gear, out"
        " of gear, with a gentle brake, under power and lifting off: each takes away one group of causes.",
        "Licensed driver, legal speeds. The driver never writes and never reads a screen.",
        "The digits answer the line in hand; 0 is could not tell on an observation and not felt at a speed, and 1 and "
        "then 0 is ten. n notes word for word, a attaches a recording, Delete takes the line out again. Page Down "
        "reads on. Everything is saved as it is typed.",
        "Strength is one passenger's word: the same person before and after, and a step more or less means nothing "
        "(common practice).",
    ),
    "bay": (
        "Measure before anything is replaced, and write the number down with the wheel and the unit: it is what "
        "the proof will be compared with.",
        "The vehicle maker's limit outranks every figure here. Enter it with the reading.",
        "A reading between the limits says nothing, and is shown so.",
        "Enter on a check goes to its outcomes, the digits answer at once; h says how the result was got: done as the "
        "check says, a quick look, or told. F4 goes from the checks to the readings and back.",
        "Enter or Ctrl+S keeps a reading and goes on to the next wheel; it takes the place of the former one of its "
        "wheel. Where several places are read on one part, write down the largest. An empty reading, kept, takes out "
        "what stands there.",
        "A round of readings (choose it above the fields): write the readings in order in one line, x where one is "
        "missing, turning the part as it turns driving forward, the first at the valve or at a mark. Eight carry the "
        "off-centre part, twelve are better. Read again with the wheel moved on its studs, and it tells what stays "
        "with the hub and what travels with the wheel. With no readings typed, the kept round is shown: Enter brings "
        "it back to be put right, Ctrl+S twice takes it out.",
    ),
    "proof": (
        "Mend one thing, then drive the same road at the same speed with the same people. Two changes at once "
        "prove nothing.",
        "d records the repair in hand; r opens the sheet for the same road again, with what was felt before beside "
        "it; 1 to 4 tell what the repair did. What is seen after the repair proves it and does not weigh on the "
        "causes.",
        "A repair that did not help is evidence too: record it, and the ranking follows.",
        "A case with an open danger is not finished: the check named there, made after the repair on the sheet of key "
        "r, clears it. When it comes back, reopen it with what was learned.",
        "A seat level must fall by about a tenth before a person notices (Vibration 2020, 3(2), 116-131).",
    ),
}
