"""The call sheet as one HTML page to print: no script, no outside file, everything the caller said
escaped."""

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from advisor.knowledge import Knowledge
from advisor.maps import as_svg, compressor_map
from advisor.outcome import Consultation
from advisor.sheet import asked, cautions, parts, text
from advisor.sheet.trace import fired

MOST_KEPT = 15


def call_sheet(
    consultation: Consultation,
    knowledge: Knowledge,
    title: str = "",
    notes: Sequence[str] = (),
    pictures: Sequence[tuple[str, str]] = (),
) -> str:
    """The page, with the compressor map of the recommended turbo. ``pictures`` are (caption, SVG text) beside it, drawn
    by the program itself."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    options = text.shown(consultation)
    best = consultation.recommended
    chart = compressor_map(best, knowledge) if best is not None else None
    drawn = [(f"Compressor map of {chart.title} and where this engine runs on it.", as_svg(chart))] if chart else []
    figure_names = dict.fromkeys(figure.name for option in options for figure in option.figures)
    assumed = dict.fromkeys(
        figure.assumption
        for figure in (*consultation.figures, *(f for option in options for f in option.figures))
        if figure.assumption
    )
    full, rest = cautions.ranked(consultation.cautions)
    return environment.get_template("call_sheet.html").render(
        title=title or "Call sheet",
        c=consultation,
        answers=[
            (
                heard.answer,
                text.as_understood(heard, definition),
            )
            for heard in consultation.understood
            for definition in (knowledge.vocabulary.get(heard.answer.fact),)
        ],
        notes=notes,
        year=asked.year(consultation, knowledge),
        asked_title=asked.TITLE,
        not_answered=asked.NOT_ANSWERED,
        options=options,
        figure_names=list(figure_names),
        counted_on=text.counted_on(consultation),
        figure_notes={figure.name: figure.note for option in options for figure in option.figures if figure.note},
        figure_of={option.code: {figure.name: figure for figure in option.figures} for option in options},
        assumed=list(assumed),
        request_answer=text.request_answer(consultation),
        cautions=full,
        cautions_in_short=rest,
        in_short=cautions.in_short,
        short_title=cautions.IN_SHORT,
        closer_title=cautions.CLOSER,
        slighter_title=cautions.SLIGHTER,
        say_with={line.rule: line.text for line in consultation.say},
        asked_for=any(heard.answer.fact == "request" for heard in consultation.understood),
        say=text.worth_saying(consultation, knowledge),
        caution_note=cautions.CAUTION_NOTE if cautions.is_grave(consultation.cautions) else "",
        kept=consultation.kept[:MOST_KEPT],
        fired=fired(consultation, knowledge),
        pictures=[(caption, Markup(svg)) for caption, svg in (*drawn, *pictures)],
        first_steps=text.first_steps(consultation),
        last_steps=text.last_steps(consultation),
        little=text.LITTLE,
        option_mark=text.option_mark,
        trade_share=text.trade_share,
        trades_apart=text.trades_apart,
        trade_title=text.trade_title,
        money=parts.money,
        part_count=parts.part_count,
        part_price=parts.part_price,
        part_days=parts.part_days,
        proviso=parts.proviso_of(consultation),
        total=parts.total_words(consultation.parts, parts.budget_of(consultation)),
        tally=text.tally(consultation),
    )
