"""The commands: `advisor call`, `advisor check`, `advisor figures`; those of the rules desk are in `desk_commands`.

Exit codes: 0 fine, 1 something differs or falls short, 2 input refused, 130 interrupted.
"""

import argparse
import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from advisor import __version__, desk_commands
from advisor.pause import uncollected
from advisor.shell import (
    DIFFERS,
    FINE,
    INTERRUPTED,
    REFUSED,
    Refused,
    agenda_of,
    knowledge_in,
    listed,
    shop_of,
    sound_for_figures,
    write,
)

_LOOKED = 0.1  # seconds between two looks at whether something was saved

if TYPE_CHECKING:  # each command imports what it needs, so that the first question comes soon
    from advisor.desk.ranges import Memory
    from advisor.dialogue.turn import Consult, Fresh
    from advisor.inference.agenda import Agenda
    from advisor.knowledge import Knowledge
    from advisor.outcome import Answer, Consultation


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns its exit code."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looking for plugins takes longer than loading
    for stream in (sys.stdout, sys.stderr):  # a console that has no degree sign shows a question mark
        with suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    options = _options(arguments)
    try:
        return int(options.run(options))
    except Refused as refused:
        for line in refused.lines:
            print(line, file=sys.stderr)
        return REFUSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return FINE


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    """What was typed. Files may stand after options too: `compare OTHER --shop FOLDER FILE`."""
    parser = _parser()
    options, beyond = parser.parse_known_args(arguments)
    if beyond and (not hasattr(options, "paths") or any(word.startswith("-") for word in beyond)):
        parser.error(f"'{beyond[0]}' can't be read here; put '--help' after the command to see what can stand there")
    if beyond:
        options.paths = [*options.paths, *map(Path, beyond)]
    return options


class _Version(argparse.Action):
    def __init__(self, **settings: object) -> None:
        super().__init__(nargs=0, help="version, and which engine fires the rules", **settings)  # type: ignore[arg-type]

    def __call__(self, parser: argparse.ArgumentParser, *_: object, **__: object) -> None:
        from advisor.inference.engines import agenda

        print(f"advisor {__version__}; rules fired by {agenda().describe()}")
        parser.exit(FINE)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="advisor", description="Consultation at the turbocharger sales desk of a diesel shop."
    )
    parser.add_argument("--version", action=_Version)
    commands = parser.add_subparsers(metavar="COMMAND", required=True)

    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument("--shop", type=Path, metavar="FOLDER", help="the shop's knowledge; default: the demo shop")
    shared.add_argument(
        "--fire", choices=("auto", "reference", "durable"), default="auto", help="which engine fires the rules"
    )

    call = commands.add_parser("call", parents=[shared], help="take a call, or run a caller's answers from a file")
    call.add_argument("--answers", type=Path, metavar="FILE", help="a caller's answers, as in a scripted call")
    call.add_argument("--json", action="store_true", help="with --answers: everything as JSON")
    call.add_argument("--plain", action="store_true", help="plain lines: no colour, no cursor movement")
    call.add_argument("--resume", metavar="CALL", help="go on with a call that was left; 'last' is the latest")
    call.add_argument("--calls", type=Path, metavar="FOLDER", help="where calls are kept")
    call.add_argument("--sheet", type=Path, metavar="FILE", help="with --answers: write the call sheet (.txt or .html)")
    call.add_argument(
        "--workings",
        action="store_true",
        help="with --answers: also lesser cautions in full, every figure with its band, and how it all came about",
    )
    call.set_defaults(run=_call)

    desk_commands.add(commands, shared)

    check = commands.add_parser("check", help="check the shop's knowledge; every fault with its place and mend")
    check.add_argument("folder", type=Path, nargs="?", metavar="FOLDER", help="default: the demo shop")
    check.add_argument("--each-save", action="store_true", help="stay, and check again at every save; Ctrl-C ends it")
    check.set_defaults(run=_check)

    figures = commands.add_parser("figures", help="the operating line of turbos on an engine, both from a YAML file")
    figures.add_argument("file", type=Path, metavar="FILE", help="engine, place, duty and turbos")
    figures.add_argument("--json", action="store_true", help="everything as JSON, with residuals and bands")
    figures.add_argument("--picture", type=Path, metavar="FILE", help="draw map and lines (.png or .svg)")
    figures.set_defaults(run=_figures)
    return parser


def _call(options: argparse.Namespace) -> int:
    if options.answers is not None:
        return _call_from_file(options)
    if options.json or options.sheet or options.workings:
        raise Refused("--json, --workings and --sheet go with --answers FILE; in a live call, type 'sheet NAME'")
    from advisor.dialogue.loop import asker, run
    from advisor.journal import Journal, JournalError, default_folder, path_of

    who = asker(options.plain)
    shop = shop_of(options)
    knowledge = knowledge_in(shop, maps=False)
    maps = cache(partial(sound_for_figures, shop, knowledge))  # looked at behind the first question, once
    agenda = agenda_of(options)
    folder = options.calls or default_folder()
    try:
        if options.resume:
            journal = Journal.resume(path_of(folder, options.resume))
        else:
            journal = Journal.start(folder, knowledge.digest)
    except JournalError as error:
        raise Refused(str(error)) from None
    consulted, concluded = _consulting(knowledge, agenda, maps)
    with journal:
        reread = partial(_reread, shop, agenda)
        begun_with = {name: given for name in ("shop", "calls") if (given := getattr(options, name)) is not None}
        return run(consulted, knowledge, who, journal, Path.cwd(), concluded, reread, begun_with)


def _consulting(knowledge: "Knowledge", agenda: "Agenda", first: Callable[[], None]) -> "tuple[Consult, Consult]":
    """How a call is consulted after each answer, and when the advice is told; ``first`` runs before."""

    def consulted(answers: "Sequence[Answer]") -> "Consultation":
        from advisor.consultation import consult

        first()
        return consult(answers, knowledge, agenda, bands=False)

    def concluded(answers: "Sequence[Answer]") -> "Consultation":
        from advisor.consultation import consult

        return consult(answers, knowledge, agenda)

    return consulted, concluded


def _reread(
    shop: Path, agenda: "Agenda", answers: "Sequence[Answer]", old: "Knowledge"
) -> "Fresh | tuple[str, ...]":
    """The knowledge as it is in the folder now, for a call with these answers, or its faults."""
    from advisor.desk.edits import reload
    from advisor.dialogue.turn import Fresh

    try:
        new = knowledge_in(shop)
    except Refused as refused:
        return refused.lines
    changes = tuple(reload(answers, old, new, agenda).told())
    return Fresh(new, *_consulting(new, agenda, lambda: None), changes)


def _call_from_file(options: argparse.Namespace) -> int:
    from advisor.bounds import followed
    from advisor.consultation import consult
    from advisor.outcome import DECIDED
    from advisor.scripted import read_script

    knowledge = knowledge_in(shop_of(options))
    script, faults = read_script(options.answers, knowledge)
    if script is None:
        raise Refused(*map(str, faults))
    outcome = consult(script.answers, knowledge, agenda_of(options))
    again = [heard for heard in outcome.understood if heard.again]
    if again:
        raise Refused(*(f"{script.place_of(heard.answer)}: {heard.answer.fact}: {heard.again}" for heard in again))
    for heard in outcome.understood:
        if heard.doubt:
            print(f"{script.place_of(heard.answer)}: {heard.answer.fact}: {heard.doubt}", file=sys.stderr)
    outcome = followed(outcome, script.answers, knowledge)
    if options.sheet is not None:
        _write_sheet(options.sheet, outcome, knowledge, script.call, options.workings)
    if options.json:
        from advisor.sheet.data import as_data

        unicode = (sys.stdout.encoding or "").lower().startswith("utf")
        print(json.dumps(as_data(outcome, knowledge), ensure_ascii=not unicode, indent=1, allow_nan=False))
    else:
        from advisor.dialogue.loop import columns
        from advisor.sheet.text import written

        print(written(outcome, knowledge, columns(), script.call, options.workings), end="")
    return FINE if outcome.verdict in DECIDED else DIFFERS


def _write_sheet(path: Path, outcome: "Consultation", knowledge: "Knowledge", title: str, workings: bool) -> None:
    from advisor.sheet.html import call_sheet
    from advisor.sheet.text import written

    if path.suffix not in (".txt", ".html"):
        raise Refused(f"{path}: a call sheet is written as .txt or .html; give the name one of these endings")
    if path.suffix == ".html":
        content = call_sheet(outcome, knowledge, title)
    else:
        content = written(outcome, knowledge, 80, title, workings)
    write(path, content)


def _check(options: argparse.Namespace) -> int:
    with uncollected():
        from advisor.knowledge import digest, shipped_folder

        folder = options.folder or shipped_folder()
        seen = digest(folder) if options.each_save else ""
        memory: Memory | None = {} if options.each_save else None
        ended = _checked(folder, memory)
    while options.each_save:
        while (now := digest(folder)) == seen:
            time.sleep(_LOOKED)
        print()
        seen = now
        _checked(folder, memory)
    return ended


def _checked(folder: Path, memory: "Memory | None") -> int:
    from advisor.desk.review import review
    from advisor.desk.revisions import taken_out

    faults = review(folder, memory)
    errors = sum(fault.severity == "error" for fault in faults)
    gone = taken_out(folder, loads=not errors)
    for line in [*gone, *listed(folder, faults)] if errors else [*listed(folder, faults), *gone]:
        print(line)
    print(f"{folder}: {errors} to mend, {len(faults) - errors} to note", flush=True)
    return REFUSED if errors else FINE


def _figures(options: argparse.Namespace) -> int:
    from advisor import figures, figures_text
    from advisor.knowledge import KnowledgeError

    try:
        asked = figures.read(options.file)
    except KnowledgeError as error:
        raise Refused(*(f"{options.file.parent / str(fault)}" for fault in error.faults)) from None
    line = asked.line()
    if options.picture is not None:
        from advisor.pictures import draw

        try:
            draw(line, asked.tables, asked.rows, options.picture)
        except ImportError:
            raise Refused("pictures need matplotlib; install it with: pip install 'advisor[pictures]'") from None
        except (OSError, ValueError) as error:
            raise Refused(f"{options.picture}: {error}") from None
    print(figures_text.as_json(line) if options.json else figures_text.as_text(line), end="\n" if options.json else "")
    every = (point for turbo in (*line["turbos"], *line["pairs"]) for point in turbo["points"])
    return FINE if all(point["converged"] for point in every) else DIFFERS


if __name__ == "__main__":
    sys.exit(main())
