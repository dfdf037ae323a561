"""Results of a replay as JUnit XML, the form that build servers read."""

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from advisor.replay import Replayed


def junit(results: Sequence[Replayed]) -> str:
    """One test case for each script: a failure holds what differs, an error why it was refused; what checks nothing
    counts as skipped."""
    refused = sum(bool(result.refused) for result in results)
    differing = sum(bool(result.differences) for result in results)
    idle = sum(bool(result.idle) and not result.differences for result in results)
    counts = {"tests": str(len(results)), "failures": str(differing), "errors": str(refused)}
    top = Element("testsuites", counts)
    suite = SubElement(top, "testsuite", {"name": "scripted calls", **counts, "skipped": str(idle)})
    for result in results:
        case = SubElement(suite, "testcase", {"name": result.call, "classname": "scripted calls", "file": result.file})
        wrong = [*result.refused, *map(str, result.differences)]
        if wrong:
            kind = "error" if result.refused else "failure"
            SubElement(case, kind, {"message": wrong[0]}).text = "\n".join(wrong)
        elif result.idle:
            SubElement(case, "skipped", {"message": result.idle})
    indent(top)
    return tostring(top, encoding="unicode", xml_declaration=True) + "\n"
