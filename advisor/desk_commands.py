"""The commands of the rules desk: replay, try, compare, cover, mutants, second-look, write-up, schemas."""

import argparse
import re
import shlex
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.shell import (
    DIFFERS,
    FINE,
    REFUSED,
    Refused,
    agenda_of,
    knowledge_in,
    scripts_of,
    shop_of,
    write,
)

if TYPE_CHECKING:
    from advisor.desk.calls import RecordedCall
    from advisor.desk.compare import Comparison
    from advisor.desk.held import Score
    from advisor.desk.record import Accepted
    from advisor.knowledge import Knowledge, Rule

Commands = Any  # what argparse gives for sub-commands has no public name
ADVISED = ("recommended", "diagnosed")


def add(commands: Commands, shared: argparse.ArgumentParser) -> None:
    """Add the commands to the parser."""
    scripts = argparse.ArgumentParser(add_help=False, parents=[shared])
    scripts.add_argument(
        "paths", type=Path, nargs="*", metavar="PATH", help="files or folders; default: the demo calls"
    )
    scripts.add_argument("--processes", type=int, metavar="N", help="how many processes share the work")

    replay = commands.add_parser("replay", parents=[scripts], help="replay scripted calls; exit code 1 if one differs")
    replay.add_argument(
        "--accept", action="store_true", help="write what is concluded now into the scripts that differ"
    )
    replay.add_argument("--record", action="store_true", help="write the whole outcome into every script")
    replay.add_argument("--doubts", action="store_true", help="what a caller would be asked about his answers, too")
    replay.add_argument("--junit", type=Path, metavar="FILE", help="write the results as JUnit XML")
    replay.set_defaults(run=_replay)

    attempt = commands.add_parser("try", help="one call against edited rules: what is told, and why; nothing is saved")
    attempt.add_argument("--answers", type=Path, metavar="FILE", required=True, help="as in a scripted call")
    attempt.add_argument("--rules", type=Path, metavar="FOLDER", dest="shop", help="the edited rules")
    attempt.add_argument("--against", metavar="OTHER", help="folder or git revision: say what it concludes otherwise")
    attempt.add_argument("--difference", action="store_true", help="only that, without what is told")
    attempt.add_argument("--in-full", action="store_true", help="the written recommendation, not what is told in short")
    attempt.add_argument("--trace", nargs="?", const="", metavar="RULE", help="why each rule fired, or one did or not")
    attempt.add_argument("--fire", choices=("auto", "reference", "durable"), default="auto", help=argparse.SUPPRESS)
    attempt.set_defaults(run=_try)

    compare = commands.add_parser("compare", parents=[shared], help="which recorded calls an edit of the rules changes")
    compare.add_argument("other", metavar="OTHER", help="folder or git revision with the rules as they were")
    compare.add_argument("paths", type=Path, nargs="*", metavar="PATH", help="scripted calls; default: the demo calls")
    compare.add_argument("--calls", type=Path, metavar="FOLDER", help="logged calls too: the folder of their journals")
    compare.add_argument("--near", type=int, default=200, metavar="N", help="situations tried beside the calls (200)")
    compare.add_argument("--points", action="store_true", help="points and numbers of candidates too, line by line")
    compare.add_argument("--all", action="store_true", help="every call and line, however many there are")
    compare.add_argument("--brief", action="store_true", help="only the calls that change, not how")
    compare.add_argument("--processes", type=int, metavar="N", help="how many processes share the work")
    compare.set_defaults(run=_compare)

    cover = commands.add_parser("cover", parents=[scripts], help="what the scripted calls reach of the rules")
    cover.add_argument(
        "--of", action="append", default=[], metavar="NAME", help="only of this rule, or of the rules in this file"
    )
    cover.add_argument("--listing", action="store_true", help="the rule files, each line with what was seen of it")
    cover.set_defaults(run=_cover)

    mutants = commands.add_parser("mutants", parents=[scripts], help="small wrong changes that no script notices")
    mutants.add_argument(
        "--of", action="append", default=[], metavar="NAME", help="only of this rule, or of the rules in this file"
    )
    mutants.add_argument("--offer", type=int, default=0, metavar="N", help="look for variants that notice the first N")
    mutants.add_argument("--write", type=Path, metavar="FOLDER", help="write the scripts with such variants there")
    mutants.set_defaults(run=_mutants)

    look = commands.add_parser("second-look", parents=[shared], help="what similar rules mention that this one doesn't")
    look.add_argument("rule", metavar="RULE")
    look.set_defaults(run=_second_look)

    document = commands.add_parser(
        "write-up", parents=[shared], help="the rules as a document, or one with its picture"
    )
    document.add_argument("rule", nargs="?", metavar="RULE")
    document.add_argument(
        "--out", type=Path, metavar="FILE", required=True, help=".md or .html; .svg for a picture only"
    )
    document.set_defaults(run=_write_up)

    schemas = commands.add_parser("schemas", parents=[shared], help="JSON Schemas by which an editor completes files")
    schemas.add_argument("--out", type=Path, metavar="FOLDER", required=True)
    schemas.set_defaults(run=_schemas)


def _rule(knowledge: "Knowledge", name: str) -> "Rule":
    from advisor.knowledge.places import did_you_mean

    names = [rule.name for rule in knowledge.rules]
    if name not in names:
        raise Refused(f"there is no rule '{name}'; {did_you_mean(name, names, 'see the rule files')}")
    return knowledge.rule(name)


def _rules_of(knowledge: "Knowledge", named: str) -> list[str]:
    """The rule of that name, or the rules of that file. Raises Refused where there is neither."""
    from advisor.knowledge.places import did_you_mean

    names = [rule.name for rule in knowledge.rules]
    if named in names:
        return [named]
    file = Path(named).name.removesuffix(".yaml") + ".yaml"
    found = [rule.name for rule in knowledge.rules if rule.place.file == file]
    if not found:
        topics = {rule.place.file.removesuffix(".yaml") for rule in knowledge.rules}
        mend = did_you_mean(named, [*names, *topics], "name a rule, or a file of rules")
        raise Refused(f"there is no rule and no rule file '{named}'; {mend}")
    return found


def _replay(options: argparse.Namespace) -> int:
    from advisor.desk.replay_lines import by_shop, doubted, wrong
    from advisor.replay import replay

    folder = shop_of(options)
    knowledge_in(folder)
    agenda_of(options)
    paths = scripts_of(options.paths)
    if options.accept or options.record:
        return _accept(options, folder, paths)
    results = replay(paths, folder, options.fire, options.processes)
    for line in by_shop(wrong(results), folder, options.shop is not None, paths):
        print(line)
    for line in doubted(results, options.doubts):
        print(line)
    if options.junit is not None:
        from advisor.desk.junit import junit

        write(options.junit, junit(results))
    refused = sum(bool(result.refused) for result in results)
    differing = sum(bool(result.differences) for result in results)
    calls, differ = ("call", "calls")[len(results) != 1], ("differs", "differ")[differing != 1]
    right = len(results) - refused - differing
    idle = sum(bool(result.idle) for result in results)
    print(f"{len(results)} {calls} replayed: {right} as {('it', 'they')[right != 1]} should be, "
          f"{differing} {differ}, {refused} refused" + (f"; checking nothing: {idle}" if idle else ""))  # fmt: skip
    return REFUSED if refused else DIFFERS if differing else FINE


def _accept(options: argparse.Namespace, folder: Path, paths: Sequence[Path]) -> int:
    from advisor.desk.record import accept
    from advisor.desk.replay_lines import by_shop

    knowledge, agenda = knowledge_in(folder), agenda_of(options)
    written = short = 0
    for path in paths:
        try:
            accepted = accept(path, knowledge, agenda, options.record)
        except OSError as error:
            raise Refused(f"{path}: {error.strerror or error}; see to its permissions") from None
        if accepted.faults:
            raise Refused(*by_shop([*map(str, accepted.faults)], folder, options.shop is not None, paths))
        if accepted.before != accepted.after:
            print("\n".join(accepted.difference()))
            try:
                accepted.write()
            except OSError as error:
                raise Refused(f"{path}: {error.strerror or error}; see to its permissions") from None
            written += 1
        for line in _not_accepted(path, accepted):
            print(line)
        short += bool(accepted.lost or accepted.left)
    fall = f", {short} of which lost or still want something otherwise" if short else ""
    print(f"{len(paths)} script{'s' * (len(paths) != 1)}, {written} rewritten{fall}")
    return DIFFERS if short else FINE


def _not_accepted(path: Path, accepted: "Accepted") -> Iterable[str]:
    """What of a script couldn't be written anew, and of which rules it may show too little now."""
    for lost in accepted.lost:
        yield f"{lost.place}: lost: {lost.words}"
    yield from (f"even so: {line}" for line in accepted.left)
    rules = dict.fromkeys((*(rule for lost in accepted.lost for rule in lost.rules), *accepted.turned))
    if rules or accepted.lost:
        of = "".join(f" --of {rule}" for rule in rules)
        turned = f"the reverse is wanted now of {', '.join(accepted.turned)}; " if accepted.turned else ""
        yield (
            f"{path}: {turned}'advisor mutants {path}{of} --write FOLDER' looks whether the script still sees where "
            "rules turn, and writes the variants that do"
        )


def _try(options: argparse.Namespace) -> int:
    from advisor.consultation import consult
    from advisor.desk.calls import scripted_call
    from advisor.desk.edits import reload
    from advisor.desk.renames import renames
    from advisor.desk.trying import in_full, in_short, trace

    if options.difference and not options.against:
        raise Refused("--difference wants to know from what; add --against with a folder or git revision")
    folder = shop_of(options)
    knowledge, agenda = knowledge_in(folder), agenda_of(options)
    if options.trace:
        _rule(knowledge, options.trace)
    call, faults = scripted_call(options.answers)
    if call is None:
        raise Refused(*map(str, faults))
    before = _before(options, folder)
    as_now = call if before is None else call.by(renames(before, knowledge))
    unknown = [answer.fact for answer in as_now.answers if answer not in as_now.under(knowledge)]
    outcome = consult(as_now.under(knowledge), knowledge, agenda)
    if not options.difference:
        traced = options.trace is not None
        shown = in_full if options.in_full else in_short
        for line in () if traced and not options.in_full else shown(outcome, knowledge, call.name):
            print(line)
        for line in trace(outcome, knowledge, options.trace) if traced else ():
            print(line)
    for name in unknown:
        print(f"{options.answers}: '{name}' is not asked under these rules; its answer was passed over")
    again = [heard for heard in outcome.understood if heard.again]
    for heard in again:
        words, fact = heard.answer.words, heard.answer.fact
        print(f"{as_now.place_of(heard.answer)}: '{words}' was not understood as {fact}: {heard.again}")
    if before is not None:
        print("\nOtherwise than before")
        lines = reload(call.answers, before, knowledge, agenda, by_new_names=True).lines()
        print("\n".join(f"  {line}" for line in lines))
    return FINE if outcome.verdict in ADVISED and not again else DIFFERS


def _before(options: argparse.Namespace, folder: Path) -> "Knowledge | None":
    """The knowledge that an edit is held against, None without one. Raises Refused where it isn't there."""
    from advisor.desk.revisions import NoRevision, state

    if not options.against:
        return None
    try:
        with state(options.against, folder) as before:
            return knowledge_in(before)
    except NoRevision as error:
        raise Refused(str(error)) from None


def _recorded(options: argparse.Namespace) -> "list[RecordedCall]":
    from advisor.desk.calls import logged_calls, scripted_calls

    calls, faults = scripted_calls(scripts_of(options.paths))
    if faults:
        raise Refused(*map(str, faults))
    if getattr(options, "calls", None) is not None:
        logged, unread = logged_calls(options.calls)
        for line in unread:
            print(f"passed over: {line}")
        calls += logged
    return calls


def _show_unheard(calls: "Sequence[RecordedCall]", knowledge: "Knowledge") -> None:
    """What of the scripts' answers counts for nothing, each in a line."""
    from advisor.desk.calls import unheard

    for line in unheard(calls, knowledge):
        print(line)


def _compare(options: argparse.Namespace) -> int:
    from advisor.desk.compare import compare
    from advisor.desk.revisions import NoRevision, state
    from advisor.desk.told import edited, told

    folder, calls = shop_of(options), _recorded(options)
    knowledge = knowledge_in(folder)
    agenda_of(options)
    try:
        with state(options.other, folder) as before:
            knowledge_in(before)
            found = compare(calls, before, folder, options.fire, options.processes)
            _show_unheard([call.by(found.edits.renames) for call in calls], knowledge)
            lines = told(found, options.points, options.all, options.brief)
            print("\n".join([*edited(found, options.all), *lines]))
            _show_short(options, found, calls, before, folder)
    except NoRevision as error:
        raise Refused(str(error)) from None
    return DIFFERS if found.changed else FINE


def _show_short(
    options: argparse.Namespace, found: "Comparison", calls: "Sequence[RecordedCall]", before: Path, folder: Path
) -> None:
    """The nearest situations that nobody recorded, and all of it in short."""
    from advisor.desk.compare import Pair
    from advisor.desk.in_short import in_short
    from advisor.desk.nearest import NARROWED, Nearby, nearest_flips
    from advisor.desk.told import lines_of

    nearby = Nearby()
    if found.edits and options.near > 0:
        pair = Pair(knowledge_in(before), knowledge_in(folder), agenda_of(options))
        nearby = nearest_flips(calls, pair, options.near, found.changed)
    for flip in nearby.flips[: None if options.all else NARROWED]:
        print(f"unrecorded, by {flip.by}: {flip}")
        print("\n".join(f"    {line}" for line in lines_of(flip.change, options.points, options.all)))
    print("\nIn short")
    print("\n".join(in_short(found, nearby)))


def _cover(options: argparse.Namespace) -> int:
    from advisor.desk.cover import cover, listing

    folder = shop_of(options)
    knowledge = knowledge_in(folder)
    agenda_of(options)
    calls = _recorded(options)
    of = [name for named in options.of for name in _rules_of(knowledge, named)]
    found = cover(calls, folder, options.fire, options.processes, of)
    print("\n".join(listing(found, folder, bool(of)) if options.listing else found.table()))
    if of:
        print("\n".join(found.short_of(folder)) or "Every branch is seen from both sides.")
    _show_unheard(calls, knowledge)
    print(found.share())
    return FINE if all(rule.decided for rule in found.rules) else DIFFERS


def _mutants(options: argparse.Namespace) -> int:
    from advisor.desk.held import score
    from advisor.desk.replay_lines import by_shop
    from advisor.scripted import read_scripts

    folder, paths = shop_of(options), scripts_of(options.paths)
    if options.write is not None:
        _free_to_write(options.write, paths)
    knowledge = knowledge_in(folder)
    agenda_of(options)
    if faults := [fault for path in paths for fault in read_scripts(path, knowledge)[1]]:
        raise Refused(*by_shop([*map(str, faults)], folder, options.shop is not None, paths))
    of = [name for named in options.of for name in _rules_of(knowledge, named)]
    found = score(paths, folder, options.fire, options.processes, of)
    for verdict in found.missed:
        moved = f"changes what '{verdict.moved}' concludes" if verdict.moved else "changes no call"
        print(f"{folder}/{verdict.mutant.place}: {verdict.mutant.name}; {moved}, no script notices")
    for line in found.unsound:
        print(f"{line}, so it notices nothing")
    offering = bool(options.offer or options.write is not None)
    offered = _offer(options, found, folder, of) if offering and found.missed else 0
    print("\n".join(found.lines()))
    if found.missed:
        print(_next_step(options) if offered or not offering else "Nothing is offered: write a call that shows them.")
    return DIFFERS if found.missed else FINE


def _free_to_write(folder: Path, paths: Sequence[Path]) -> None:
    """Raises Refused where a script that is written would take the place of what is there, or of another one."""
    if folder.is_file():
        raise Refused(f"{folder}: is a file, so nothing can be put into it; name a folder")
    names = [path.name for path in paths]
    if there := next((folder / name for name in names if (folder / name).exists()), None):
        raise Refused(f"{there}: is there already and would be written over; name a folder without these scripts")
    if twice := next((name for name in names if names.count(name) > 1), None):
        raise Refused(f"{twice}: two scripts are called so, and one would be written over the other; name one of them")


def _next_step(options: argparse.Namespace) -> str:
    """What to do about mutants that no script notices."""
    if options.write is not None:
        return f"Next: look the scripts in {options.write} over, put them in the place of yours, and replay them."
    words = ["advisor", "mutants", *map(str, options.paths)]
    words += ["--shop", str(options.shop)] if options.shop else []
    words += [word for name in options.of for word in ("--of", name)]
    return f"Next: '{shlex.join(words)} --write FOLDER' writes the scripts with variants that notice them."


def _offer(options: argparse.Namespace, found: "Score", folder: Path, of: Sequence[str]) -> int:
    """Show or write the scripts with variants that notice more; how many."""
    from advisor.desk.keeping import with_variants
    from advisor.desk.offers import offers

    missed = [number for number, verdict in enumerate(found.verdicts) if not verdict.idle and not verdict.noticed]
    few = missed[: options.offer or len(missed)]
    by_file, lost = offers(few, scripts_of(options.paths), folder, options.fire, options.processes, of)
    for mutant in lost:
        print(f"{folder}/{mutant.place}: {mutant.name}; no situation found that tells it apart")
    for file, offered in by_file.items():
        text = with_variants(Path(file).read_text(encoding="utf-8"), offered)
        if options.write is not None:
            write(options.write / Path(file).name, text)
            print(f"{options.write / Path(file).name}: written")
        else:
            print(f"---- {file}\n{text}", end="")
    return len(by_file)


def _second_look(options: argparse.Namespace) -> int:
    from advisor.desk.similar import LEAST, alike, looked_at, second_look

    knowledge = knowledge_in(shop_of(options))
    rule = _rule(knowledge, options.rule)
    if found := second_look(knowledge, rule):
        print("\n".join(map(str, found)))
    elif alike(knowledge, rule):
        print("Similar rules mention nothing that this one leaves out.")
    else:
        print(f"Fewer than {LEAST} rules do alike in its file or on what it reads, so nothing can be said of it.")
    print("\n".join(["Looked at:", *(f"  {line}" for line in looked_at(knowledge, rule) or ["no other rule"])]))
    return FINE


def _write_up(options: argparse.Namespace) -> int:
    from advisor.desk.picture import picture
    from advisor.desk.write_up import write_up

    ending = options.out.suffix
    if ending not in (".md", ".html", ".svg") or (ending == ".svg" and options.rule is None):
        raise Refused(f"{options.out}: a write-up is .md or .html, of one rule also .svg; give the name such an ending")
    knowledge = knowledge_in(shop_of(options))
    rules = [_rule(knowledge, options.rule)] if options.rule else []
    made = picture(knowledge, rules[0]) if ending == ".svg" else write_up(knowledge, ending, rules)
    if options.out.is_file() and _title(options.out.read_text(encoding="utf-8", errors="replace")) != _title(made):
        raise Refused(f"{options.out}: holds something else than this write-up; name another file, or delete it first")
    write(options.out, made)
    print(f"{options.out}: written")
    return FINE


def _title(document: str) -> str:
    """What a write-up calls itself: its title, or its first line."""
    found = re.search(r"<title>(.*?)</title>", document)
    return found[1] if found else document.partition("\n")[0]


def _schemas(options: argparse.Namespace) -> int:
    from advisor.desk.schemas import as_text, in_an_editor, schemas

    shop = shop_of(options)
    for name, schema in schemas(knowledge_in(shop)).items():
        write(options.out / name, as_text(schema))
        print(f"{options.out / name}: written")
    print("\n".join(in_an_editor(options.out, shop)))
    return FINE
