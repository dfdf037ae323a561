"""The rules as a document to read: by topic, each with condition, words, reason, basis, keeper and date."""

from collections.abc import Sequence

from jinja2 import Environment

from advisor.desk.entries import Entry, entry
from advisor.desk.picture import picture
from advisor.desk.reach import feeders, readers
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.strata import reads

HOW_TO_READ = (
    "A rule speaks when all its conditions hold. It does so in one of four stages: understand, from what the caller "
    "says; demand, with the figures of his engine; judge, about each turbo by itself, in points of 100; advise, about "
    "the one chosen. Cautions are told the gravest first: stop, danger, care, note. A name in braces stands for the "
    "caller's figure."
)

def by_topic(knowledge: Knowledge) -> dict[str, list[Entry]]:
    """The rules of each topic (rule file), in the order in which they are written."""
    topics: dict[str, list[Entry]] = {}
    for rule in sorted(knowledge.rules, key=lambda rule: rule.place):
        topics.setdefault(rule.place.file.removesuffix(".yaml"), []).append(entry(rule, knowledge))
    return topics


def markdown(topics: dict[str, list[Entry]], title: str) -> str:
    """The document as Markdown."""
    lines = [f"# {title}", ""]
    if _is_whole(topics):
        contents = [f"- {_heading(topic)}: {_count(entries)}" for topic, entries in topics.items()]
        lines += [HOW_TO_READ, "", *contents, ""]
    for topic, entries in topics.items():
        lines += [f"## {_heading(topic)}", ""]
        for one in entries:
            lines += [f"### {one.rule.name}", "", f"Stage {one.rule.stage}. When:", ""]
            lines += [f"{'  ' * depth}- {_plain(text)}" for depth, text in one.when]
            lines += ["", "Then:", "", *(f"- {_plain(text)}" for text in one.then), ""]
            lines += [f"Because: {_plain(one.rule.because)}", ""]
            lines += [f"Basis: {_plain(one.rule.basis)}. Kept by: {one.rule.kept_by or 'nobody'}.", ""]
    return "\n".join(lines)


def _heading(topic: str) -> str:
    return topic.capitalize().replace("-", " ")


def _count(entries: Sequence[Entry]) -> str:
    return f"{len(entries)} rule{'s' * (len(entries) != 1)}"


def _is_whole(topics: dict[str, list[Entry]]) -> bool:
    """Whether there is more than one rule to find one's way among."""
    return sum(map(len, topics.values())) > 1


def _plain(text: str) -> str:
    """Text whose signs Markdown would take for its own."""
    for sign in ("\\", "<", ">", "*", "_", "`", "["):
        text = text.replace(sign, f"\\{sign}")
    return text


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ title }}</title><style>
body { font: 16px/1.5 Georgia, serif; max-width: 52rem; margin: 2rem auto; padding: 0 1rem; color: #222; }
h3 { border-top: 1px solid #cdc8ba; padding-top: .8rem; margin-bottom: .2rem; }
.stage, .basis { color: #5d594e; font-size: .9rem; } li.in1 { margin-left: 1.5rem; } li.in2 { margin-left: 3rem; }
ul { margin: .2rem 0; } 
figure { margin: 1rem 0 1rem 50%; transform: translateX(-50%); width: max-content; max-width: calc(100vw - 2rem); }
figure { overflow-x: auto; } /* a wide picture keeps its size on a screen */
@media print { figure { margin: 1rem 0; transform: none; width: auto; } svg { max-width: 100%; height: auto; } }
</style></head><body><h1>{{ title }}</h1>
{% if drawing %}<figure>{{ drawing|safe }}</figure>{% endif %}
{% if whole %}<p>{{ how_to_read }}</p><ul>
{% for topic, entries in topics.items() %}
<li><a href="#topic-{{ topic }}">{{ heading(topic) }}</a>: {{ count(entries) }}</li>
{% endfor %}</ul>{% endif %}
{% for topic, entries in topics.items() %}<h2 id="topic-{{ topic }}">{{ heading(topic) }}</h2>
{% for one in entries %}<h3 id="{{ one.rule.name }}">{{ one.rule.name }}</h3>
<p class="stage">stage {{ one.rule.stage }}, {{ one.rule.place }}</p><p>When</p><ul>
{% for depth, text in one.when %}<li class="in{{ depth }}">{{ text }}</li>
{% endfor %}</ul><p>then</p><ul>
{% for text in one.then %}<li>{{ text }}</li>
{% endfor %}</ul><p>Because: {{ one.rule.because }}</p>
<p class="basis">Basis: {{ one.rule.basis }}. Kept by: {{ one.rule.kept_by or "nobody" }}.</p>
{% endfor %}{% endfor %}</body></html>
"""


def html(topics: dict[str, list[Entry]], title: str, drawing: str = "") -> str:
    """The document as one HTML page; ``drawing`` is an SVG of our own."""
    page = Environment(autoescape=True).from_string(_PAGE)
    return page.render(
        topics=topics, title=title, drawing=drawing, whole=_is_whole(topics), how_to_read=HOW_TO_READ,
        heading=_heading, count=_count,
    )  # fmt: skip


def write_up(knowledge: Knowledge, ending: str, rules: Sequence[Rule] = ()) -> str:
    """The document as ``.html`` or ``.md``: of all rules, or of some; of a single one with its picture (HTML)."""
    wanted = {rule.name for rule in rules}
    topics = {
        topic: kept
        for topic, entries in by_topic(knowledge).items()
        if (kept := [one for one in entries if not wanted or one.rule.name in wanted])
    }
    title = rules[0].name if len(rules) == 1 else "The rules of the shop"
    if ending == ".md":
        return markdown(topics, title) + (_neighbours(knowledge, rules[0]) if len(rules) == 1 else "")
    return html(topics, title, picture(knowledge, rules[0]) if len(rules) == 1 else "")


def _neighbours(knowledge: Knowledge, rule: Rule) -> str:
    lines = ["## Hangs together with", "", f"Reads: {', '.join(sorted(reads(rule))) or 'nothing'}.", ""]
    lines += [f"Fed by: {', '.join(other.name for other in feeders(knowledge, rule)) or 'no rule'}.", ""]
    lines += [f"Read by: {', '.join(other.name for other in readers(knowledge, rule)) or 'no rule'}.", ""]
    return "\n".join(lines)
