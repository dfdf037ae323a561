"""A rule among its neighbours as SVG: what it reads and who feeds that, what it sets and who reads that."""

from dataclasses import dataclass
from html import escape

from advisor.desk.reach import feeders, readers
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.strata import reads, writes

NARROWEST, A_LETTER, HEIGHT, GAP, BETWEEN, MARGIN = 130, 7, 30, 10, 70, 20
HEAD, INK = 12, "#5d594e"
HEADS = ("rules that feed it", "what it reads", "the rule", "what it sets", "rules that read that")
FILLS = {"rule": "#e7ebdd", "fact": "#f4efe4", "centre": "#c9d6b5"}


@dataclass(frozen=True, slots=True)
class _Box:
    name: str
    kind: str
    x: float
    y: float
    width: float


def picture(knowledge: Knowledge, rule: Rule) -> str:
    """The SVG; up to five columns from feeding rules to reading ones, lines where one reads or sets the other."""
    into, out = sorted(reads(rule)), sorted(writes(rule))
    before = [other for other in feeders(knowledge, rule) if writes(other) & set(into)]
    after = readers(knowledge, rule)
    columns = [
        [(other.name, "rule") for other in before],
        [(name, "fact") for name in into],
        [(rule.name, "centre")],
        [(name, "fact") for name in out],
        [(other.name, "rule") for other in after],
    ]
    tall = max(len(column) for column in columns)
    boxes: dict[tuple[int, str], _Box] = {}
    heads: list[str] = []
    x = MARGIN
    for index, column in enumerate(columns):
        if not column:
            continue
        wide = max(NARROWEST, *(A_LETTER * len(name) + 2 * HEAD for name, _ in column))
        at = f'x="{x + wide / 2:g}" y="{MARGIN}"'
        heads.append(f'<text {at} text-anchor="middle" fill="{INK}">{HEADS[index]}</text>')
        for row, (name, kind) in enumerate(column):
            y = MARGIN + HEAD + (tall - len(column)) * (HEIGHT + GAP) / 2 + row * (HEIGHT + GAP)
            boxes[index, name] = _Box(name, kind, x, y, wide)
        x += wide + BETWEEN
    lines = [((0, other.name), (1, fact)) for other in before for fact in into if fact in writes(other)]
    lines += [((1, fact), (2, rule.name)) for fact in into]
    lines += [((2, rule.name), (3, fact)) for fact in out]
    lines += [((3, fact), (4, other.name)) for other in after for fact in out if fact in reads(other)]
    width = x - BETWEEN + MARGIN
    height = 2 * MARGIN + HEAD + tall * (HEIGHT + GAP) - GAP
    drawn = [*heads, *(_line(boxes[start], boxes[end]) for start, end in lines)]
    drawn += [_box(box) for box in boxes.values()]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'font-family="sans-serif" font-size="12" role="img"><title>{escape(rule.name)} and what it hangs together '
        f"with</title>\n" + "\n".join(drawn) + "\n</svg>\n"
    )


def _line(start: _Box, end: _Box) -> str:
    x, y, to_x, to_y = start.x + start.width, start.y + HEIGHT / 2, end.x, end.y + HEIGHT / 2
    bend = BETWEEN / 2
    path = f"M{x:g} {y:g} C{x + bend:g} {y:g} {to_x - bend:g} {to_y:g} {to_x:g} {to_y:g}"
    return f'<path d="{path}" fill="none" stroke="#8a8577" stroke-width="1.2"/>'


def _box(box: _Box) -> str:
    corner = 3 if box.kind == "fact" else 12
    place = f'x="{box.x:g}" y="{box.y:g}" width="{box.width:g}" height="{HEIGHT}"'
    return (
        f'<g><title>{escape(box.name)}</title><rect {place} '
        f'rx="{corner}" fill="{FILLS[box.kind]}" stroke="{INK}"/><text x="{box.x + box.width / 2:g}" '
        f'y="{box.y + HEIGHT / 2 + 4:g}" text-anchor="middle">{escape(box.name)}</text></g>'
    )
