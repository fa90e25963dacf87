"""The command line: ``trainer VERB``. Each verb is one small function and imports only what it needs."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from trainer.version import __version__

app = typer.Typer(
    name="trainer",
    help="Training simulator of a subsea blowout preventer's hydraulic control system.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
PlantOption = Annotated[str | None, typer.Option("--plant", help="Id of the plant; see assets/plants.")]


class InputError(Exception):
    """What was given is wrong: told on standard error, exit code 1."""


_say = typer.echo


def _print_json(document: object) -> None:
    _say(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False))


def _show_version(wanted: bool) -> None:
    if wanted:
        from trainer.session.engine import engine_hash

        _say(f"trainer {__version__}, engine {engine_hash()[:12]}")
        raise typer.Exit


@app.callback()
def _options(
    _version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Version.")
    ] = False,
) -> None:
    from trainer.runtime import server

    server.offer()


@app.command()
def serve(
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on.")] = 5006,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    records: Annotated[str | None, typer.Option(help="Database of records, as a URL; SQLite if none.")] = None,
    join: Annotated[bool, typer.Option("--join", help="Trainees join by class code, on this machine too.")] = False,
    origin: Annotated[list[str] | None, typer.Option(help="Another name (host:port) of this server.")] = None,
    proxy: Annotated[bool, typer.Option("--proxy", help="A web server of yours stands before this one.")] = False,
    member: Annotated[str | None, typer.Option(help="Name of this process among several of a class.")] = None,
) -> None:
    """Start the classroom edition and print its addresses."""
    from trainer.classroom import opening
    from trainer.records.database import RecordsError

    try:
        opening.serve(port, host, records, join=join, origins=origin or [], proxy=proxy, member=member)
    except RecordsError as error:
        raise InputError(str(error)) from error
    except OSError as error:
        raise InputError(f"cannot listen on {host}:{port}: {error.strerror or error}") from error


@app.command("records")
def look_after_records(
    action: Annotated[str, typer.Argument(metavar="check|backup|restore|verify")],
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="The backup to write or to restore; the log to verify.")
    ] = None,
    records: Annotated[str | None, typer.Option(help="Database of records, as a URL; the usual one if none.")] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="PEM", help="Public key of a classroom: only a log that it signed is whole.")
    ] = None,
) -> None:
    """Look the records of a classroom through, back them up (also while it runs), restore a backup, or verify an
    exported audit log."""
    from trainer.records import verb
    from trainer.records.database import RecordsError
    from trainer.session.signing import SigningError

    try:
        said, whole = verb.work(action, file, records, key)
    except (RecordsError, SigningError) as error:
        raise InputError(str(error)) from error
    _say(said)
    if not whole:
        raise typer.Exit(1)


@app.command()
def drills(as_json: AsJson = False) -> None:
    """List the drills: id, title, level, minutes, plant."""
    from trainer.simulator import drill_list

    rows = drill_list()
    if as_json:
        _print_json(rows)
        return
    width = max((len(row["id"]) for row in rows), default=0)
    for row in rows:
        _say(f"{row['id']:<{width}}  {row['level']:<10} {row['minutes']:>4g} min  {row['plant']:<10} {row['title']}")


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH…", help="Files, or folders of them.")],
    as_json: AsJson = False,
) -> None:
    """Validate plant, drill, action and evidence files; tells faults, each with its place, and what could be better."""
    from trainer.classroom import lesson_files
    from trainer.filecheck import check_paths
    from trainer.runtime import server

    # A plant that runs for one minute costs plain Python half of what its compiling would.
    with server.plain():
        reports = check_paths(paths, lesson_files.check_file)
    if as_json:
        _print_json([report.to_json() for report in reports])
    else:
        for report in reports:
            for line in report.good():
                _say(line)
            for fault in report.faults:
                typer.echo(f"{report.file}: {fault}", err=True)
    if any(report.faults for report in reports):
        raise typer.Exit(1)


@app.command()
def signals(plant: PlantOption = None, as_json: AsJson = False) -> None:
    """Print the signal catalogue and the commands that the plant takes."""
    from trainer.simulator import catalogue

    document = catalogue(plant)
    if as_json:
        _print_json(document)
        return
    for row in document["signals"]:
        span = _span(row["states"] or [row["low"], row["high"]], row["unit"])
        seen = ", ".join(row["station"]) or "no instrument"
        _say(f"{row['tag']:<38} {span:<28} {seen:<24} {row['meaning']}")
    _say("")
    for row in document["commands"]:
        takes = _span(row["values"] or [], row["unit"])
        _say(f"{row['do']:<6} {row['target']:<38} {takes:<28} {', '.join(row['station'])}")


def _span(values: list[str] | list[float], unit: str) -> str:
    """What a reading shows or a command takes: names, or a range with its unit."""
    names = [value if isinstance(value, str) else f"{value:g}" for value in values]
    if not values or isinstance(values[0], str):
        return " / ".join(names)
    return f"{names[0]} to {names[1]} {unit}"


@app.command()
def run(
    drill: Annotated[str, typer.Argument(help="Id of a drill, or the path of a drill file.")],
    actions: Annotated[Path | None, typer.Option(help="Action file (JSON Lines); without it no one acts.")] = None,
    plant: PlantOption = None,
    seed: Annotated[int, typer.Option(min=0, max=2**53 - 1, help="Picks the drill's variation.")] = 0,
    evidence: Annotated[Path | None, typer.Option(help="Write the evidence here.")] = None,
    name: Annotated[str, typer.Option(help="Who operates, for the evidence.")] = "",
    role: Annotated[str, typer.Option(help="In which role, for the evidence.")] = "",
    as_json: AsJson = False,
) -> None:
    """Run a drill at full speed with scripted actions and print the score sheet."""
    from trainer import headless

    if evidence is not None:
        headless.can_write(evidence)
    result = headless.run(drill, actions_file=actions, plant=plant, seed=seed)
    if evidence is not None:
        headless.write_evidence(result.session, evidence, name=name, role=role)
    if as_json:
        _print_json(result.to_json())
        return
    for line in headless.sheet_lines(result):
        _say(line)
    for refusal in result.refusals:
        typer.echo(refusal, err=True)


@app.command()
def verify(
    evidence: Annotated[list[Path], typer.Argument(metavar="EVIDENCE…", help="Evidence files.")],
    drill: Annotated[
        list[Path] | None, typer.Option(help="Drill file that is not shipped, for evidence made with it.")
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option(metavar="PEM", help="Public key of a classroom: only evidence that it signed is verified."),
    ] = None,
    withdrawn: Annotated[
        Path | None,
        typer.Option(metavar="JSON", help="The classroom's list of withdrawn sign-offs; needs --key."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Re-compute evidence; exit 0 only if states, score and seal all match. Says what differs."""
    from trainer import headless
    from trainer.session import signing
    from trainer.session import withdrawn as lists

    if withdrawn is not None and key is None:
        raise InputError("give --key too: the list of withdrawn sign-offs counts only when the classroom signed it")
    try:
        public = signing.read_public(key) if key is not None else None
        gone = lists.read(withdrawn, public) if withdrawn is not None and public is not None else {}
    except (signing.SigningError, lists.WithdrawnError) as error:
        raise InputError(str(error)) from error
    rows = [headless.verify_file(path, drill or [], public, gone) for path in evidence]
    headless.same_runs(rows)
    if as_json:
        _print_json(rows)
    else:
        for row in rows:
            _say(headless.verified_line(row))
    if not all(row["ok"] for row in rows):
        raise typer.Exit(1)


@app.command()
def bench(
    as_json: AsJson = False,
    long: Annotated[bool, typer.Option("--long", help="Add the checks that take half an hour.")] = False,
    page: Annotated[Path | None, typer.Option(help="Write the table of checks to this Markdown file.")] = None,
) -> None:
    """Measure speed against a baseline in the same run, and physics against outside sources."""
    from trainer.bench import report

    document = report.measure(long)
    if page is not None:
        try:
            page.write_text(report.page(document, report.foot_of(page)), encoding="utf-8")
        except OSError as error:
            _say(f"{page}: cannot be written ({error.strerror})")
            raise typer.Exit(2) from None
    if as_json:
        _print_json(document)
    else:
        for line in report.lines(document):
            _say(line)
    if not all(row["ok"] for row in document["checks"] + document["speed"]):
        raise typer.Exit(1)


@app.command()
def site(
    out: Annotated[Path, typer.Argument(help="Folder to write, new or with an earlier site.")],
    serve_it: Annotated[
        bool, typer.Option("--serve", help="Serve it on this machine; a finished site is served as it is, not built.")
    ] = False,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to serve on.")] = 8000,
    cmi5: Annotated[
        bool, typer.Option("--cmi5", help="Write OUT as a cmi5 package (ZIP) for a learning system.")
    ] = False,
) -> None:
    """Write the offline edition: static files that need no server of their own."""
    from trainer.takeaway.serve import finished
    from trainer.takeaway.serve import serve as serve_folder

    if cmi5:
        _package_site(out)
        return
    there = finished(out) if serve_it else None
    if there is not None:
        _say(f"{out}: finished, of version {there}. To build it again, leave out --serve.")
    else:
        _build_site(out)
    if serve_it:
        _say(f"Open http://127.0.0.1:{port}/ in a browser. Stop with Ctrl+C.")
        try:
            serve_folder(out, port)
        except OSError as error:
            raise InputError(
                f"cannot listen on port {port}: {error.strerror or error}; choose another with --port"
            ) from error


def _package_site(out: Path) -> None:
    from trainer.takeaway.cmi5 import package
    from trainer.takeaway.errors import SiteError

    try:
        _say(package(out, say=lambda step: typer.echo(step, err=True)))
    except SiteError as error:
        raise InputError(str(error)) from error


def _build_site(out: Path) -> None:
    from trainer.takeaway.build import build
    from trainer.takeaway.errors import SiteError

    try:
        _say(str(build(out, say=lambda step: typer.echo(step, err=True))))
    except SiteError as error:
        raise InputError(str(error)) from error


@app.command()
def report(
    evidence: Annotated[Path, typer.Argument(metavar="EVIDENCE", help="Evidence file.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="Report to write: OUT.pdf or OUT.html.")],
    drill: Annotated[
        list[Path] | None, typer.Option(help="Drill file that is not shipped, for evidence made with it.")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="PEM", help="Public key of the classroom that must have signed it.")
    ] = None,
) -> None:
    """Write the score report of an evidence file, which is re-computed for it."""
    from trainer.reports.write import ReportError, write
    from trainer.session import signing

    try:
        written = write(evidence, output, drill or [], signing.read_public(key) if key is not None else "")
    except (ReportError, signing.SigningError) as error:
        raise InputError(str(error)) from error
    _say(written.line)
    if not written.verified:
        raise typer.Exit(1)


@app.command()
def sizing(
    plant: PlantOption = None,
    rules: Annotated[str | None, typer.Option(help="Rule set; see assets/rules.")] = None,
    output: Annotated[Path | None, typer.Option("--output", "-o", help="Write it: OUT.pdf, .html or .csv.")] = None,
    prepared: Annotated[str, typer.Option(help="Name of who prepared it, for the title block.")] = "",
    checked: Annotated[str, typer.Option(help="Name of who checked it.")] = "",
    as_json: AsJson = False,
) -> None:
    """Print the planning sheet: usable fluid, demand, recharge, response, battery, and what the rules say."""
    from trainer.planning import sheet_out

    sheet = replace(sheet_out.make(plant, rules), prepared=prepared, checked=checked)
    if as_json:
        _print_json(sheet.as_json())
    elif output is None:
        _say("\n".join(sheet_out.lines(sheet)))
    if output is not None:
        from trainer.planning import sheet_paper

        told = sheet_paper.write(sheet, output)
        typer.echo(told, err=as_json)


@app.command()
def ensemble(
    drill: Annotated[str, typer.Argument(help="Id of a drill or its file; or a folder of evidence to re-compute.")],
    runs: Annotated[int, typer.Option(help="How many plants.")] = 100,
    actions: Annotated[Path | None, typer.Option(help="Action file; each crew reads its own gauges.")] = None,
    plant: PlantOption = None,
    tolerances: Annotated[str, typer.Option(help="How plants differ: id or file; see assets/tolerances.")] = "usual",
    seed: Annotated[int, typer.Option(min=0, max=2**52, help="Picks the drill's variation.")] = 0,
    plants_seed: Annotated[int, typer.Option(min=0, max=2**52, help="Picks the plants.")] = 0,
    vary: Annotated[bool, typer.Option("--vary", help="Let the drill's own variation differ too.")] = False,
    wait: Annotated[bool, typer.Option("--wait", help="Each crew waits for its own plant's milestones.")] = False,
    half_width: Annotated[float, typer.Option(min=0.1, max=49.0, help="How close a share shall be known, %.")] = 5,
    first_signs: Annotated[bool, typer.Option("--first-signs", help="Also tell which reading shows it first.")] = False,
    trace: Annotated[list[str] | None, typer.Option(help="Signal to plot; may be given again.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder that keeps what is done, to go on after a stop.")] = None,
    plot: Annotated[Path | None, typer.Option(help="Write spread plots: OUT.html.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write a row a plant: OUT.csv.")] = None,
    workers: Annotated[int, typer.Option(min=0, max=256, help="Processes on this machine; 0: one a core.")] = 0,
    cluster: Annotated[str | None, typer.Option(help="Address of a Dask scheduler, such as tcp://host:8786.")] = None,
    as_json: AsJson = False,
) -> None:
    """Run a drill over many plants drawn from tolerances, or re-compute a folder of evidence."""
    from trainer.planning.ensemble import answers, verb

    workers = workers or os.cpu_count() or 1
    if Path(drill).is_dir():
        rows = verb.folder(Path(drill), workers=workers, cluster=cluster, done=_progress)
        _told(rows, [f"{row['file']}: {'verified' if row['ok'] else row['reason']}" for row in rows], as_json)
        if not all(row["ok"] for row in rows):
            raise typer.Exit(1)
        return
    document = verb.drill(
        drill, runs=runs, actions_file=actions, plant=plant, spread=tolerances, seed=seed, plants_seed=plants_seed,
        vary=vary, waits=wait, half_width=half_width / 100.0, signs=first_signs, traces=tuple(trace or ()), out=out,
        plot=plot, table=csv, workers=workers, cluster=cluster, done=_progress,
    )  # fmt: skip
    _told(document, answers.lines(document), as_json)


@app.command()
def fit(
    base: Annotated[str, typer.Argument(help="Id of the plant to begin from, or a plant file.")] = "quillback",
    plant: Annotated[str, typer.Option("--id", help="Id of your plant; it is saved under it.")] = "",
    title: Annotated[str, typer.Option(help="Its title.")] = "",
    add: Annotated[
        list[str] | None, typer.Option(help="KIND:NAME or KIND:NAME:LIKE, such as bank:bank_c:bank_a.")
    ] = None,
    remove: Annotated[list[str] | None, typer.Option(help="KIND:NAME, such as filter:filter_2.")] = None,
    set_: Annotated[list[str] | None, typer.Option("--set", help="PLACE=VALUE: bank.bank_a.bottles=30.")] = None,
    output: Annotated[Path | None, typer.Option("--output", "-o", help="Save it here instead: ID.toml.")] = None,
    tries: Annotated[
        list[str] | None, typer.Option("--try", help="A drill to try by its reference run, or all.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Fit a plant file to a rig: add, remove, resize; tells faults, differences and which drills it suits."""
    from trainer.planning import fit_verb

    document = fit_verb.fit(base, plant, set_ or [], add or [], remove or [], title, output, tries or [])
    _told(document, fit_verb.lines(document), as_json)
    if document["faults"]:
        raise typer.Exit(1)


@app.command()
def calibrate(
    readings: Annotated[Path, typer.Argument(metavar="CSV", help="Readings: time [s], then instruments [unit].")],
    test: Annotated[Path, typer.Option(help="What was done meanwhile: an action file (JSON Lines).")],
    plant: Annotated[str, typer.Option(help="Id of the plant to begin from, or a plant file.")] = "quillback",
    fit: Annotated[str, typer.Option(help="What to fit, with commas between.")] = "precharge,leak,valve,line",
    function: Annotated[str, typer.Option(help="Whose valve is fitted; the test's first move if none.")] = "",
    leak: Annotated[str, typer.Option(help="Which leak is fitted.")] = "header.leak",
    own: Annotated[str, typer.Option("--id", help="Save the fitted plant under this id.")] = "",
    output: Annotated[Path | None, typer.Option("--output", "-o", help="Save it here instead: ID.toml.")] = None,
    plot: Annotated[Path | None, typer.Option(help="Write measured against model: OUT.html.")] = None,
    as_json: AsJson = False,
) -> None:
    """Fit precharge, leak, valve and line of a plant to readings of a test on the rig, with their uncertainty."""
    from trainer.planning import calibrate_verb

    document = calibrate_verb.fit(
        readings, test, plant=plant, names=[name.strip() for name in fit.split(",") if name.strip()],
        function=function, fault=leak, own=own, output=output, plot=plot, told=_round,
    )  # fmt: skip
    _told(document, calibrate_verb.lines(document), as_json)


def _round(count: int, misfit: float) -> None:
    """How far a fit has come, on standard error, where a person looks on."""
    if sys.stderr.isatty():
        typer.echo(f"\rrun {count}, misfit {misfit:.3g}   ", err=True, nl=False)


def _progress(done: int, whole: int) -> None:
    """A bar on standard error, where a person looks on."""
    if sys.stderr.isatty():
        filled = 40 * done // max(whole, 1)
        typer.echo(f"\r[{'#' * filled}{'.' * (40 - filled)}] {done} of {whole}", err=True, nl=done >= whole)


def _told(document: object, lines: list[str], as_json: bool) -> None:
    if as_json:
        _print_json(document)
    else:
        _say("\n".join(lines))


def _input_errors() -> tuple[type[Exception], ...]:
    """The errors that mean wrong input. Only imported once something was raised."""
    from trainer.drills.schema import DrillError
    from trainer.headless import OutputError
    from trainer.planning.errors import PlanningError
    from trainer.session.actions import ActionFileError
    from trainer.session.signing import SigningError
    from trainer.simulator import ChoiceError, PlantError

    return (InputError, ChoiceError, ActionFileError, DrillError, OutputError, PlanningError, PlantError, SigningError)


def main() -> None:
    """Run the command line; wrong input ends with one message and exit code 1, wrong usage with 2."""
    try:
        app()
    except _input_errors() as error:
        for line in str(error).splitlines():
            typer.echo(f"trainer: {line}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)


if __name__ == "__main__":
    main()
