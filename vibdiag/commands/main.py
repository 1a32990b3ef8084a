"""`vibdiag`: the command line. Each command imports what it needs when it runs, so that help is instant."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from vibdiag import __version__
from vibdiag.commands.bay import register as register_bay
from vibdiag.commands.road import register as register_road
from vibdiag.commands.store import store_app
from vibdiag.commands.summaries import WholeSummaries

__all__ = ["app", "run"]

app = typer.Typer(
    cls=WholeSummaries,
    name="vibdiag",
    help="Find out why a car shakes, what to check next, and prove that it is gone.",
    no_args_is_help=False,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
rules_app = typer.Typer(
    cls=WholeSummaries, help="Check and score the rule base.", rich_markup_mode=None, no_args_is_help=True
)
app.add_typer(rules_app, name="rules")
app.add_typer(store_app, name="store")

Json = Annotated[bool, typer.Option("--json", help="Print JSON with stable keys instead of text.")]
Rules = Annotated[
    Path | None,
    typer.Option("--rules", metavar="FOLDER", help="Use this rule base instead of the shipped one."),
]

Cases = Annotated[
    Path | None, typer.Option("--cases", metavar="FOLDER", help="A folder of case files instead of the store.")
]
Store = Annotated[
    str | None, typer.Option("--store", metavar="FILE_OR_URL", help="This store instead of VIBDIAG_STORE.")
]


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    cases: Cases = None,
    store: Store = None,
    rules: Rules = None,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Without a command, in a terminal: the screens."""
    if version:
        print(f"vibdiag {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is not None:
        return
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        print(context.get_help())
        return
    from vibdiag.commands.screens import run_screens

    run_screens(cases, store, rules)


@app.command()
def rank(
    cases: Annotated[
        list[Path], typer.Argument(metavar="CASE...", help="Case files (YAML), or ids of cases in the store.")
    ],
    who: Annotated[
        list[str] | None, typer.Option(help="Only steps for desk, road or bay; may be given several times.")
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(metavar="TOOL", help="A tool the shop lacks; may be given several times."),
    ] = None,
    steps: Annotated[int, typer.Option(min=0, max=20, help="How many next steps to show.")] = 3,
    reasons: Annotated[int, typer.Option(min=0, max=50, help="How many reasons to show for and against.")] = 4,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Rank the causes of a complaint, with reasons, dangers and the next steps."""
    from vibdiag.commands.rank import rank_cases

    rank_cases(cases, who=who, without=without, steps=steps, reasons=reasons, rules=rules, as_json=as_json)


@app.command()
def turns(
    tyre: Annotated[str | None, typer.Option(help="Tyre marking, e.g. 225/45R17.")] = None,
    rear_tyre: Annotated[str | None, typer.Option(help="Rear tyre marking, where it differs.")] = None,
    speed: Annotated[float | None, typer.Option(min=0.1, max=400, help="Speed as it was read.")] = None,
    unit: Annotated[str, typer.Option(help="km/h or mph.")] = "km/h",
    read_from: Annotated[
        str, typer.Option("--from", help="dashboard, gps, obd, held-by-cruise or unknown.")
    ] = "unknown",
    driven: Annotated[str, typer.Option(help="front, rear, all or unknown.")] = "unknown",
    placement: Annotated[str, typer.Option(help="Engine transverse, longitudinal or unknown.")] = "unknown",
    power: Annotated[str, typer.Option(help="combustion, electric, hybrid or unknown.")] = "unknown",
    axle_ratio: Annotated[float | None, typer.Option(help="Final drive: input turns per wheel turn.")] = None,
    gear_ratio: Annotated[float | None, typer.Option(help="Engine turns per final drive input turn.")] = None,
    rpm: Annotated[float | None, typer.Option(help="Engine speed at that road speed, 1/min.")] = None,
    cylinders: Annotated[int | None, typer.Option(help="Number of cylinders.")] = None,
    reduction: Annotated[float | None, typer.Option(help="Electric motor turns per wheel turn.")] = None,
    accessory: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=RATIO", help="Accessory turns per engine turn; several times."),
    ] = None,
    hz: Annotated[float | None, typer.Option(min=0.01, help="A measured frequency to match, Hz.")] = None,
    count: Annotated[float | None, typer.Option(min=1, help="Or: shakes counted ...")] = None,
    seconds: Annotated[float | None, typer.Option(min=0.1, help="... in so many seconds.")] = None,
    beat: Annotated[float | None, typer.Option(min=0.1, help="Seconds between two swells at that speed.")] = None,
    starts: Annotated[float | None, typer.Option(min=0.1, max=400, help="Speed where the shake starts.")] = None,
    worst: Annotated[float | None, typer.Option(min=0.1, max=400, help="Speed where it is worst.")] = None,
    fades: Annotated[float | None, typer.Option(min=0.1, max=400, help="Speed where it has gone again.")] = None,
    case: Annotated[Path | None, typer.Option(help="Take car and speeds from this case file.")] = None,
    as_json: Json = False,
) -> None:
    """What turns how fast at a speed, what would be felt where, and which part a frequency fits."""
    from vibdiag.commands.turns import TurnsRequest, show_turns

    show_turns(
        TurnsRequest(
            tyre, rear_tyre, speed, unit, read_from, driven, placement, power, axle_ratio, gear_ratio, rpm, cylinders,
            reduction, tuple(accessory or ()), hz, count, seconds, beat, starts, worst, fades, case,
        ),
        as_json=as_json,
    )  # fmt: skip


@app.command()
def script(
    case: Annotated[Path | None, typer.Argument(metavar="[CASE]", help="File or id: only what is open in it.")] = None,
    html: Annotated[Path | None, typer.Option("--html", metavar="FILE", help="Write one printable HTML page.")] = None,
    questions: Annotated[int, typer.Option(min=4, max=30, help="How many questions.")] = 14,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Print the intake interview to hold at a desk or on the telephone."""
    from vibdiag.commands.script import print_script

    print_script(case, html=html, count=questions, rules=rules, as_json=as_json)


@app.command()
def report(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (YAML), or the id of a case in the store.")],
    kind: Annotated[str, typer.Option("--for", help="customer, technician or file.")] = "customer",
    html: Annotated[Path | None, typer.Option("--html", metavar="FILE", help="Where to write it.")] = None,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Write the case as one printable HTML page."""
    from vibdiag.commands.report import write_report

    write_report(case, kind=kind, html=html, rules=rules, as_json=as_json)


@app.command()
def schema() -> None:
    """Print the JSON Schema of a case file; its descriptions are the code book."""
    from vibdiag.case.model import Case
    from vibdiag.commands.output import print_json

    print_json(Case.model_json_schema())


@app.command()
def demo(
    name: Annotated[str, typer.Argument(help="Which invented case to play.")] = "motorway-tremor",
    list_all: Annotated[bool, typer.Option("--list", help="List the invented cases.")] = False,
    as_json: Json = False,
) -> None:
    """Play an invented case from the complaint to the proof."""
    from vibdiag.commands.demo import list_demos, play_demo

    if list_all:
        list_demos(as_json=as_json)
    else:
        play_demo(name, as_json=as_json)


@app.command()
def screens(
    cases: Cases = None,
    store: Store = None,
    rules: Rules = None,
) -> None:
    """The screens, by name: the same as vibdiag alone in a terminal."""
    from vibdiag.commands.screens import run_screens

    run_screens(cases, store, rules)


@app.command()
def serve(
    host: Annotated[str, typer.Option(help="Where to listen; others come in only with a token.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes any free one and prints it.")] = 8765,
    cases: Cases = None,
    store: Store = None,
    rules: Rules = None,
    fresh_token: Annotated[
        bool, typer.Option("--new-token", help="Ask for a token; make one and print it once. Or set VIBDIAG_TOKEN.")
    ] = False,
    name: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A further name this machine is called by; several times.")
    ] = None,
    sessions: Annotated[int, typer.Option(min=1, max=100, help="How many may be open at once.")] = 8,
    idle: Annotated[float, typer.Option(min=1, max=1440, help="Minutes without a key until a session ends.")] = 60,
) -> None:
    """The screens in a browser, for the desk; only on this machine unless --host says otherwise."""
    from vibdiag.commands.serve import ServeRequest, serve_screens

    serve_screens(ServeRequest(host, port, cases, store, rules, fresh_token, tuple(name or ()), sessions, idle))


@app.command()
def followup(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of case files; the store when left out.")
    ] = None,
    until: Annotated[str | None, typer.Option(metavar="DATE", help="Year-month-day; today when left out.")] = None,
    as_json: Json = False,
) -> None:
    """Whom to call, and which wheels to torque again, until a day."""
    from vibdiag.commands.followup import show_follow_ups

    show_follow_ups(folder, until=until, as_json=as_json)


@app.command()
def figures(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of case files; the store when left out.")
    ] = None,
    period: Annotated[str, typer.Option(help="month or all.")] = "all",
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write a row per cause and period.")] = None,
    parquet: Annotated[Path | None, typer.Option("--parquet", metavar="FILE", help="The same; needs pyarrow.")] = None,
    checks: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A row per check, cause and period; .csv or .parquet.")
    ] = None,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """What the cases add up to: comebacks, minutes, wrong repairs, and the checks that paid."""
    from vibdiag.commands.figures import FiguresRequest, show_figures

    show_figures(FiguresRequest(folder, period, csv, parquet, checks, rules), as_json=as_json)


register_bay(app)
register_road(app)


@rules_app.command("check")
def rules_check(
    folder: Annotated[Path | None, typer.Argument(help="Rule base; the shipped one when left out.")] = None,
    accept: Annotated[bool, typer.Option("--accept", help="Record the present values as the accepted ones.")] = False,
    as_json: Json = False,
) -> None:
    """Prove the rule base sound, and tell what changed since it was last accepted."""
    from vibdiag.commands.rules import check_rules

    check_rules(folder, accept=accept, as_json=as_json)


@rules_app.command("score")
def rules_score(
    folder: Annotated[Path, typer.Argument(help="Folder of case files with a confirmed cause.")],
    sensitive: Annotated[
        bool, typer.Option("--sensitivity", help="Show the table numbers that the first causes hang on.")
    ] = False,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Score the ranking against cases whose cause was confirmed."""
    from vibdiag.commands.rules import score_rules

    score_rules(folder, rules=rules, sensitive=sensitive, as_json=as_json)


@rules_app.command("shops")
def rules_shops(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of confirmed cases to draw cars from, too.")
    ] = None,
    cars: Annotated[int, typer.Option(min=10, max=10_000, help="How many cars to draw for each trial.")] = 200,
    seed: Annotated[int, typer.Option(help="The same seed draws the same cars.")] = 1,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Simulate shops: minutes and wrong repairs of this tool, the usual order, a checklist and chance."""
    from vibdiag.commands.shops import compare_shops

    compare_shops(folder, cars=cars, seed=seed, rules=rules, as_json=as_json)


@rules_app.command("learn")
def rules_learn(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of case files; the store when left out.")
    ] = None,
    prior: Annotated[
        float | None, typer.Option(metavar="STRENGTH", min=0.01, max=10_000, help="Imagined cases a row is worth.")
    ] = None,
    write: Annotated[
        Path | None, typer.Option("--write", metavar="FOLDER", help="Write a changed copy of the rules there.")
    ] = None,
    base_rates: Annotated[
        bool, typer.Option("--base-rates", help="Count base rates too; counts of write-ups are none.")
    ] = False,
    rules: Rules = None,
    as_json: Json = False,
) -> None:
    """Propose table numbers from confirmed cases, tested on cases left out; nothing changes by itself."""
    from vibdiag.commands.learn import LearnRequest, learn_rules

    learn_rules(LearnRequest(folder, prior, write, base_rates, rules), as_json=as_json)


def run() -> None:
    """Entry point of the installed command."""
    app()
