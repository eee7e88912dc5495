"""The commands. Each is a few lines that hand over to a file of its own, loaded when used, so that every start is quick."""

import errno
import os
import sys
from collections import Counter
from pathlib import Path
from typing import Literal

import click

from hourmark import __version__

EXIT_FAULT = 3
"""The exit status of a fault in the program itself; 0, 1 and 2 are answers (see docs/answers.md)."""

EXIT_INTERRUPTED = 130
EXIT_CUT_OFF = 141
"""The answer could not be written to its end: whoever read it stopped reading, or there was nowhere to write it."""

_JSON = click.option("--json", "as_json", is_flag=True, help="Answer in JSON on standard output.")


class Command(click.Command):
    """A command that refuses an option given twice, where it takes one value: the first would be dropped unsaid."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the arguments. Raises UsageError for an option given twice."""
        _, _, given = self.make_parser(ctx).parse_args(args=list(args))
        for one, times in Counter(given).items():
            switch = isinstance(one, click.Option) and one.is_flag and not one.secondary_opts
            if times > 1 and isinstance(one, click.Option) and not one.multiple and not switch:
                raise click.UsageError(f"{one.opts[0]} is given twice; it takes one value.", ctx)
        return super().parse_args(ctx, args)


class Commands(click.Group):
    """The commands together."""

    command_class = Command


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="hourmark", message="%(prog)s %(version)s")
def cli() -> None:
    """The minute and the mark of a timed injection: computed, checked, shown with its working.

    For licensed professionals under their clinic's policy. The prescriber decides; follow the product label.
    Exit status: 0 nothing stops, 1 something stops, 2 the input cannot be read.
    """


@cli.command()
@click.argument("night", type=click.Path(path_type=Path))
@click.option("--case", "case_id", metavar="ID", help="Show one case whole, with working and sources.")
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write the pages: staff/ for the team, patients/CASE/ for each patient.",
)
@click.option(
    "--language",
    type=click.Choice(("en", "es")),
    help="With --out: every page in this language, instead of each in the case's own.",
)
@click.option(
    "--paper",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="With --out: the size of paper.",
)
@click.option("--only", multiple=True, metavar="ID", help="With --out: pages for this case alone; may be given again.")
@click.option("--large", is_flag=True, help="With --out: 18 pt type for patients, instead of 14 pt.")
@click.option(
    "--against", "old", type=click.Path(path_type=Path), metavar="OLD.json", help="List what moved since that plan."
)
@_JSON
def plan(
    night: Path,
    case_id: str | None,
    folder: Path | None,
    language: str | None,
    paper: Literal["a4", "letter"],
    only: tuple[str, ...],
    large: bool,
    old: Path | None,
    as_json: bool,
) -> None:
    """Plan every case of a night file, in time order."""
    from hourmark.cli.plan import run
    from hourmark.exchange import Printing

    if folder is None and (language or only or large or paper != "a4"):
        raise click.UsageError("--language, --paper, --only and --large say how pages are printed: give --out DIR too.")
    sys.exit(run(night, case_id, folder, Printing(language, paper, large, only), old, as_json))


@cli.command()
@click.argument("night", type=click.Path(path_type=Path))
@_JSON
def findings(night: Path, as_json: bool) -> None:
    """List everything there is to say of a night file, worst first."""
    from hourmark.cli.plan import run_findings

    sys.exit(run_findings(night, as_json))


@cli.command()
@click.option(
    "--slot", required=True, metavar='"DATE TIME"', help='The slot on the clinic\'s clock: "2026-11-02 10:00".'
)
@click.option("--zone", required=True, metavar="AREA/CITY", help="The clinic's zone.")
@click.option("--lead", required=True, metavar="SPAN", help='Elapsed time before the slot: "36 h", "35 h 30 min".')
@click.option("--patient-zone", metavar="AREA/CITY", help="Where she will be that night, if elsewhere.")
@click.option("--which", metavar="first|second", help="Which of the two, where the slot's hour repeats.")
@_JSON
def when(slot: str, zone: str, lead: str, patient_zone: str | None, which: str | None, as_json: bool) -> None:
    """The minute of an injection, from its slot and lead."""
    from hourmark.cli.when import run

    sys.exit(run(slot, zone, lead, patient_zone, which, as_json))


@cli.command()
@click.option("--label", metavar="STRENGTH", help='As on the vial: "5,000 units" (powder) or "5 mg/mL" (solution).')
@click.option("--product", metavar="ID", help="A product of the formulary, instead of --label.")
@click.option("--diluent", metavar="VOLUME", help='What is added to each vial of powder: "1 mL".')
@click.option("--dose", required=True, metavar="DOSE", help='The ordered dose: "2,500 units".')
@click.option(
    "--syringe", "syringes", multiple=True, metavar="ID", help="A kind of syringe at hand; may be given again."
)
@click.option(
    "--vials", default="1", show_default=True, metavar="N", help="How many vials are mixed, each with its own diluent."
)
@click.option("--route", metavar="ROUTE", help="subcutaneous, intramuscular or nasal: checks the volume at one site.")
@_JSON
def draw(
    label: str | None,
    product: str | None,
    diluent: str | None,
    dose: str,
    syringes: tuple[str, ...],
    vials: str,
    route: str | None,
    as_json: bool,
) -> None:
    """The mark on a syringe for one dose, or why there is none."""
    from hourmark.cli.draw import run

    sys.exit(run(label, product, diluent, dose, syringes, vials, route, as_json))


@cli.command()
@click.argument("key", required=False)
@click.option(
    "--audit",
    is_flag=True,
    help="What is not read in its source, past its check date, without a second source, or unused.",
)
@click.option("--products", "list_products", is_flag=True, help="List the products with their ids.")
@_JSON
def sources(key: str | None, audit: bool, list_products: bool, as_json: bool) -> None:
    """Where every figure comes from: all of them, or those whose key begins with KEY."""
    from hourmark.cli.sources import run

    sys.exit(run(key, audit, list_products, as_json))


@cli.command()
@click.argument("evening", type=click.Path(path_type=Path))
@click.option(
    "--at", metavar='"DATE TIME"', help="Look at this moment on the clinic's clock, instead of after the last act."
)
@click.option(
    "--store", "database", metavar="FILE", help="Keep the record there: a file, or postgresql://... Default: memory."
)
@click.option("--sheet", metavar="ID", help="Show what this case had been told by then, byte for byte.")
@_JSON
def night(evening: Path, at: str | None, database: str | None, sheet: str | None, as_json: bool) -> None:
    """Play a scripted evening onto the record, and show the board and the morning list."""
    from hourmark.cli.night import run

    sys.exit(run(evening, at, database, sheet, as_json))


@cli.command()
@click.argument("night", type=click.Path(path_type=Path))
@click.argument("case")
@click.argument("kind")
@click.option(
    "--said", multiple=True, metavar="KEY=VALUE", help='One answer of the caller: "drawn=0.3 mL"; may be given again.'
)
@click.option("--at", metavar='"DATE TIME"', help="The moment of the call on the clinic's clock, instead of as_of.")
@_JSON
def trouble(night: Path, case: str, kind: str, said: tuple[str, ...], at: str | None, as_json: bool) -> None:
    """What a report of trouble comes to: the dose that went in, the hours to the slot, who decides. For staff only."""
    from hourmark.cli.trouble import run

    sys.exit(run(night, case, kind, said, at, as_json))


@cli.command()
@click.option(
    "--injection",
    "injections",
    multiple=True,
    metavar='"DRUG, DOSE, ROUTE, TIME"',
    help="What went in, TIME before the sample (11 h) or on the clock (2026-11-18 21:00); may be given again.",
)
@click.option(
    "--not-known",
    "not_known",
    multiple=True,
    metavar='"MEDICINE, WHAT"',
    help='What nobody knows of an injection: "hCG, whether", "agonist, how much", "hCG, what"; may be given again.',
)
@click.option(
    "--result",
    "results",
    multiple=True,
    required=True,
    metavar="RESULT",
    help='As on the report: "LH 48 IU/L", "hCG <2 mIU/mL", "progesterone 4.8 ng/mL", "LH strip negative".',
)
@click.option("--before", metavar="RESULT", help='Progesterone from before the trigger: "progesterone 0.6 ng/mL".')
@click.option("--drawn", metavar='"DATE TIME"', help="When the sample was drawn, where injections have clock times.")
@click.option("--zone", metavar="AREA/CITY", help="The zone of those clock times.")
@click.option("--weight", metavar='"KG kg"', help='Her weight: "65 kg".')
@click.option("--bmi", metavar="N", help="Her body-mass index.")
@click.option(
    "--pictures",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Draw each result beside its curve: SVG for light, dark and paper.",
)
@_JSON
def levels(
    injections: tuple[str, ...],
    not_known: tuple[str, ...],
    results: tuple[str, ...],
    before: str | None,
    drawn: str | None,
    zone: str | None,
    weight: str | None,
    bmi: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Read morning levels against what the dose, route and hour should show. It reports; the prescriber decides."""
    from hourmark.cli.levels import run

    sys.exit(run(injections, not_known, results, before, drawn, zone, weight, bmi, folder, as_json))


@cli.command()
@click.option("--seed", default=1, show_default=True, metavar="N", help="Which drill: the same number, the same calls.")
@click.option(
    "--answers",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Take the answers from a file, instead of asking.",
)
@click.option("--calls", "count", type=int, metavar="N", help="The first N calls alone, instead of all of them.")
@_JSON
def drill(seed: int, answers: Path | None, count: int | None, as_json: bool) -> None:
    """Practise an invented night of calls, and print the score sheet. No patient, no order, nothing on the record."""
    from hourmark.cli.drill import run

    sys.exit(run(seed, answers, count, as_json))


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--keep",
    type=click.IntRange(min=1),
    metavar="DAYS",
    help="Then remove older backups beside it: all of the last 24 hours stay, and one a day for so many days.",
)
@_JSON
def backup(folder: Path, keep: int | None, as_json: bool) -> None:
    """Copy the record into a new folder while others go on writing; the copy is opened and verified."""
    from hourmark.cli.keep import run_backup

    sys.exit(run_backup(folder, keep, as_json))


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
@_JSON
def restore(folder: Path, as_json: bool) -> None:
    """Bring a backup back, into an empty place only."""
    from hourmark.cli.keep import run_restore

    sys.exit(run_restore(folder, as_json))


@cli.command()
@click.option(
    "--against", type=click.Path(path_type=Path), metavar="DIR", help="A backup whose entries must all still be there."
)
@_JSON
def verify(against: Path | None, as_json: bool) -> None:
    """Whether every entry of the record is what it was when it was written, and whether it is safe to start."""
    from hourmark.cli.keep import run_verify

    sys.exit(run_verify(against, as_json))


@cli.command()
@click.option(
    "--backups",
    type=click.Path(path_type=Path),
    default=Path("backups"),
    show_default=True,
    metavar="DIR",
    help="Where the backup made before is put.",
)
@_JSON
def upgrade(backups: Path, as_json: bool) -> None:
    """Bring the database to this version: back up, check, migrate, check again. Also sets up a new one."""
    from hourmark.cli.keep import run_upgrade

    sys.exit(run_upgrade(backups, as_json))


@cli.command()
@click.option("--by", metavar="NAME", help="The clinic's lead, in whose name it is done; without it nothing is erased.")
@_JSON
def erase(by: str | None, as_json: bool) -> None:
    """List, or erase, the closed cases that have been kept for as long as the signed rule says."""
    from hourmark.cli.keep import run_erase

    sys.exit(run_erase(by, as_json))


@cli.command()
@click.argument("username")
@click.option("--name", required=True, metavar="NAME", help='What the record knows them by: "A. Kowal".')
@click.option("--role", required=True, type=click.Choice(("nurse", "prescriber", "pharmacist", "theatre", "lead")))
@click.option(
    "--manager", is_flag=True, help="Enters other members of staff, and is told who looked outside their role."
)
def member(username: str, name: str, role: str, manager: bool) -> None:
    """Enter a member of staff; the first password is shown one time."""
    from hourmark.cli.member import run

    sys.exit(run(username, name, role, manager))


@cli.command()
def watch() -> None:
    """Look at silent injections until interrupted, and put on the record who is to be told. `serve` starts one beside the pages."""
    from hourmark.cli.watch import run

    sys.exit(run())


@cli.command()
@click.option("--port", default=8000, show_default=True, metavar="N")
@click.option(
    "--demo", type=click.Path(path_type=Path), metavar="DIR", help="Make an invented clinic there, anew, and open it."
)
@click.option(
    "--drill", type=click.Path(path_type=Path), metavar="DIR", help="Open a drill's own night there, or make it first."
)
@click.option("--seed", type=int, metavar="N", help="Which drill: the same number, the same night. 1 unless given.")
@click.option("--calls", "count", type=int, metavar="N", help="So many of the drill's calls, instead of all 62.")
@click.option(
    "--pace", type=int, metavar="P", help="Minutes of the drill's night in one minute, 1 to 60. 1 unless given."
)
@click.option(
    "--address",
    default="127.0.0.1",
    show_default=True,
    metavar="IP",
    help="Where it listens: behind a proxy, or in a container.",
)
@click.option(
    "--watch/--no-watch", "watches", default=True, help="Whether the watch over silence runs beside the pages."
)
def serve(
    port: int,
    demo: Path | None,
    drill: Path | None,
    seed: int | None,
    count: int | None,
    pace: int | None,
    address: str,
    watches: bool,
) -> None:
    """The pages, for this machine's browser or behind a proxy."""
    from hourmark.cli.serve import Drilled, run

    sys.exit(run(port, demo, address, watches, Drilled(drill, seed, count, pace)))


def main() -> None:
    """Run a command; a fault of the program is said in one line, with the traceback only when HOURMARK_TRACEBACK is set."""
    closed = sys.stdout is None
    if closed:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - it stands in for standard output to the end
    status = _run()
    if closed:
        click.echo("Standard output is closed: the answer went nowhere.", err=True)
    sys.exit(EXIT_CUT_OFF if closed or not _written() else status)


def _run() -> int:
    """Run the command, and its exit status."""
    output = sys.stdout
    try:
        _only_text(sys.argv[1:])
        cli(standalone_mode=False)
    except SystemExit as leaving:
        if (
            sys.stdout is not output
        ):  # click puts another in its place when nobody reads, and exits with 1, which is an answer
            return _cut_off()
        return leaving.code if isinstance(leaving.code, int) else 0
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.Abort:
        return EXIT_INTERRUPTED
    except click.ClickException as misuse:
        if "--json" in sys.argv:
            from hourmark.cli.show import misuse_json

            misuse_json(sys.argv[1:2], misuse.format_message())
        misuse.show()
        return misuse.exit_code
    except BrokenPipeError:
        return _cut_off()
    except Exception as error:
        if os.environ.get("HOURMARK_TRACEBACK"):
            raise
        if isinstance(error, OSError) and error.errno == errno.ENOSPC:
            click.echo(f"The answer could not be written to its end: {error.strerror}.", err=True)
            return EXIT_CUT_OFF
        click.echo(
            f"hourmark failed ({type(error).__name__}). This is a fault in the program, not in your input: use no number from it.\n"
            "Set HOURMARK_TRACEBACK=1 and run it again to see where, and tell whoever keeps hourmark.",
            err=True,
        )
        return EXIT_FAULT
    return 0


def _only_text(args: list[str]) -> None:
    """Raise UsageError for an argument in bytes that are not UTF-8: it could be neither compared nor shown."""
    for place, arg in enumerate(args, 1):
        if not arg.isprintable() and any("\ud800" <= letter <= "\udfff" for letter in arg):
            raise click.UsageError(f"Argument {place} is not UTF-8 text.")


def _written() -> bool:
    """Whether what was answered is out of the program; where not, nothing more is tried."""
    try:
        sys.stdout.flush()
    except OSError as error:
        _cut_off()
        if error.errno == errno.ENOSPC:
            click.echo(f"The answer could not be written to its end: {error.strerror}.", err=True)
        return False
    return True


def _cut_off() -> int:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return EXIT_CUT_OFF
