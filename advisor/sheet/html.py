"""The call sheet as one HTML page to print: no script, no outside file, everything the caller said
escaped."""

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from advisor.comparing import told_once
from advisor.his_units import his_units, speaking, teller
from advisor.knowledge import Knowledge
from advisor.maps import as_svg, compressor_map
from advisor.outcome import Consultation
from advisor.sheet import asked, cautions, parts, steps, text
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
    tell = teller(consultation, knowledge.vocabulary, (title, *notes))
    knowledge = speaking(knowledge, his_units(consultation.understood, knowledge.vocabulary))
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda shown: shown if isinstance(shown, Markup) else tell(str(shown)),
    )
    options = text.shown(consultation)
    saying = text.worth_saying(consultation, knowledge)
    best = consultation.recommended
    chart = compressor_map(best, knowledge) if best is not None else None
    drawn = [(f"Compressor map of {chart.title} and where this engine runs on it.", as_svg(chart))] if chart else []
    figure_names = dict.fromkeys(figure.name for option in options for figure in option.figures)
    banded = {f.name for option in options for f in option.figures if f.band_text}
    assumed = dict.fromkeys(f.assumption for option in options for f in option.figures if f.assumption)
    told = {heard.answer.fact for heard in consultation.understood if heard.fact is not None}
    computed = [figure for figure in consultation.figures if figure.basis != "given" or figure.name not in told]
    sources: dict[str, list[str]] = {}
    for figure in computed:
        if figure.source:
            sources.setdefault(figure.source, []).append(figure.name)
    full, rest = cautions.ranked(consultation.cautions)
    return environment.get_template("call_sheet.html").render(
        title=title or "Call sheet",
        c=consultation,
        answers=[
            (
                heard.answer,
                text.as_understood(heard, definition, consultation),
            )
            for heard in consultation.understood
            for definition in (knowledge.vocabulary.get(heard.answer.fact),)
        ],
        notes=notes,
        year=asked.year(consultation, knowledge),
        asked_title=asked.TITLE,
        not_answered=asked.NOT_ANSWERED,
        options=options,
        talked_of=[name for name in text.TALKED_OF if name in figure_names],
        banded=text.BANDS_TALKED_OF,
        more_names=[
            name
            for name in figure_names
            if name not in text.TALKED_OF or (name in banded and name not in text.BANDS_TALKED_OF)
        ],
        computed=computed,
        sources=sources,
        counted_on=text.counted_on(consultation),
        figure_notes={figure.name: figure.note for option in options for figure in option.figures if figure.note},
        figure_of={option.code: {figure.name: figure for figure in option.figures} for option in options},
        assumed=list(assumed),
        request_answer=text.request_answer(consultation),
        stops=cautions.stops(consultation),
        stops_title=cautions.STOPS_FIRST,
        cautions=[one for one in full if one.severity != "stop"],
        cautions_in_short=rest,
        in_short=cautions.in_short,
        short_title=cautions.IN_SHORT,
        closer_title=cautions.CLOSER,
        slighter_title=cautions.SLIGHTER,
        say_with={line.rule: line.text for line in consultation.say},
        asked_for=any(heard.answer.fact == "request" for heard in consultation.understood),
        say=steps.without_steps(saying, consultation),
        say_with_steps={line.rule: line.text for line in saying},
        minded=told_once(option.to_mind for option in options),
        caution_note=cautions.CAUTION_NOTE if cautions.is_grave(consultation.cautions) else "",
        kept=consultation.kept[:MOST_KEPT],
        fired=fired(consultation, knowledge, words=False),
        pictures=[(caption, Markup(svg)) for caption, svg in (*drawn, *pictures)],
        first_steps=steps.first_steps(consultation),
        last_steps=steps.last_steps(consultation),
        little=text.LITTLE,
        option_mark=text.option_mark,
        trade_share=text.trade_share,
        trades_apart=text.trades_apart,
        trade_title=text.trade_title,
        choice_of={option.code: number for number, option in enumerate(options, 1)},
        money=parts.money,
        part_count=parts.part_count,
        part_price=parts.part_price,
        part_days=parts.part_days,
        proviso=parts.proviso_of(consultation),
        total=parts.total_words(consultation.parts, parts.budget_of(consultation)),
        tally=text.tally(consultation),
    )
