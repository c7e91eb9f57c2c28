"""The quote: one page for the customer before the work."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from buildlog.analysis.answers.plan_offers import PlanOffer
from buildlog.analysis.answers.plan_quotes import Quote, QuoteRow
from buildlog.analysis.car import legal
from buildlog.analysis.car.priors import called
from buildlog.analysis.margins.figures.margin_rows import State
from buildlog.records.checked_paths import field, table
from buildlog.records.key_words import key_words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.margins_text import value
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.front import identity, limit_table
from buildlog.report.booklet.limit_pages import answers
from buildlog.report.booklet.page_pictures import both
from buildlog.report.booklet.prices import money
from buildlog.report.booklet.text import text
from buildlog.report.booklet.words import day, field_words, listed
from buildlog.report.in_units import in_units
from buildlog.report.numbers import Display, declared, gain_digits, plain, signed
from buildlog.report.pictures.promise_picture import PromiseBand, promise_picture
from buildlog.report.weight import rank, weighty
from buildlog.units import Quantity

_CATALYSTS = table("exhaust.catalysts")
_KIND = field("induction.kind")
_LIMITS, _NAMES = 5, 4
_MANY, _FEW = 8, 3  # a proposal of more rows leaves room for so few limits
_OCTANE = "octane numbers"
_MONEY = {"USD": "US dollars", "EUR": "euros", "GBP": "pounds sterling", "CAD": "Canadian dollars"}
_INDUCTION = {"turbocharger": "A turbocharger", "positive-displacement": "A supercharger",
              "centrifugal": "A supercharger"}  # fmt: skip


def quote_document(quote: Quote, show: Display) -> doc.Document:
    """The whole page."""
    offer, promise = quote.offer, quote.promise
    car = offer.base.configuration.car
    until = f", valid until {day(offer.plan.valid_until)}" if offer.plan.valid_until else ""
    return doc.Document(
        title=f"{car.name}, {car.year}" if car.year else car.name,
        kicker=f"{quote.shop} · quote" if quote.shop else "Quote",
        at=f"{day(promise.date)}{until}",
        line=_line(quote, show),
        lead=doc.joined(lead(quote, show)),
        front=tuple(_blocks(quote, show)),
        sections=(),
    )


def quote_text(quotes: list[Quote], show: Display) -> list[str]:
    """The pages for a terminal, one below the other, and what comes next."""
    lines: list[str] = []
    for one in quotes:
        lines += [text(quote_document(one, show)).rstrip(), ""]
    last = quotes[-1].offer
    if last.plan.accepted is None:
        step = f'buildlog plan accept {last.name} --how "by phone"'
    else:
        step = f"buildlog plan adopt {last.name}"
    return [*lines, f"next: {step}"]


def _line(quote: Quote, show: Display) -> doc.Spans:
    parts = identity(quote.offer.base, quote.read, show)
    return doc.joined(*parts, f"{' · ' if parts else ''}{quote.base.name} in the car")


def lead(quote: Quote, show: Display) -> str:
    """What it gives and what it costs, in two sentences that can be read out."""
    return f"{_gives(quote, show)} {_costs(quote)}"


def _gives(quote: Quote, show: Display) -> str:
    band = quote.promise.power
    if band is None:
        return "What it gives cannot be predicted; we measure before and after."
    factor = show.unit("power").factor
    low, high = ((end - band.before) / factor for end in (band.p10, band.p90))
    unit, what = show.unit("power").text, _subject(quote.offer)
    inside = f"at the {quote.promise.at}: 8 results in 10 fall inside."
    digits = gain_digits(low, high)
    if low > 0:
        return f"{what} should add {plain(low, digits)} to {plain(high, digits)} {unit} {inside}"
    change = f"{signed(low, digits)} to {signed(high, digits)} {unit}"
    return f"{what} should change peak power by {change} {inside}"


def _subject(offer: PlanOffer) -> str:
    kinds = [one.new for one in offer.changes if one.path == _KIND]
    if kinds and kinds[0] in _INDUCTION:
        return _INDUCTION[str(kinds[0])]
    return "What we propose"


def _costs(quote: Quote) -> str:
    plan, rows = quote.offer.plan, quote.rows
    if plan.amount is None:
        return "Price on request."
    wanted = (one for one in rows if one.because and not one.gains and not _still_over(one))
    needed = [_name(one.name).lower() for one in wanted][:3]
    with_ = f"With the {listed(needed)} that it needs, it" if needed else "It"
    return f"{with_} costs {money(plan.amount, plan.currency, whole=True)}."


def _still_over(row: QuoteRow) -> bool:
    """Whether what is proposed does not hold either."""
    after = row.because.after if row.because else None
    return after is not None and after.state is State.OVER


def _blocks(quote: Quote, show: Display) -> Iterator[doc.Block]:
    yield from _picture(quote, show)
    yield from _proposal(quote, show)
    close = (doc.PageHeading("close", "What comes close", 2), *_close(quote, show))
    blind = (doc.PageHeading("not-predicted", "What we cannot predict", 2), *_blind(quote, show))
    yield doc.Columns(close, blind)
    yield doc.PageHeading("cautions", "Cautions", 2)
    cautions = [doc.para(one) for one in _cautions(quote)]
    yield doc.Columns(tuple(cautions[:2]), tuple(cautions[2:]))
    yield doc.para(_last_line(quote), tone="ruled")


def _picture(quote: Quote, show: Display) -> Iterator[doc.Block]:
    promise, found = quote.promise, quote.offer.predicted
    if promise.power is None:
        return
    unit = show.unit("power")
    before, low, middle, high = (
        unit.from_si(x) for x in (promise.power.before, promise.power.p10, promise.power.p50,
                                  promise.power.p90))  # fmt: skip
    band = PromiseBand(before, low, middle, high, unit.text, promise.at or "wheels")
    said = []
    if promise.torque is not None:
        torque = show.unit("torque")
        ends = (promise.torque.before, promise.torque.p10, promise.torque.p90)
        was, least, most = (plain(torque.from_si(x)) for x in ends)
        said.append(f"Peak torque: {was} {torque.text} today, {least} to {most} afterwards.")
    rests = f"this car's curve of {quote.base.name}" if promise.start else "the maker's rated power"
    if found is not None and promise.start:
        standard = {"none": "observed", "unknown": "correction unknown"}.get(
            found.start.standard, found.start.standard)  # fmt: skip
        rests = f"this car's measured curve ({found.before.name}, {standard})"
    said.append(f"Worked out from {rests} and the makers' data. The axis does not start at 0.")
    alt = f"{plain(before)} {unit.text} today, {plain(low)} to {plain(high)} afterwards"
    caption = " ".join(said)
    yield both(lambda layout: promise_picture(band, layout), "promise", caption, alt)


def _proposal(quote: Quote, show: Display) -> Iterator[doc.Block]:
    plan, rows = quote.offer.plan, quote.rows
    priced = bool(plan.charge)
    body: list[list[doc.Cell]] = []
    beside = [one for one in rows if not (one.charge or one.gains or _why(one, show))]
    for one in (one for one in rows if one not in beside):
        cells: list[doc.Cell] = [_part(one), _why(one, show)]
        body.append([*cells, _price(one, quote)] if priced else cells)
    also = "; ".join(_small(_part(one)) for one in beside if _told(one))
    if also:
        body.append([f"With it: {also}", *([""] * (1 + priced))])
    if priced and plan.amount is not None:
        total = money(plan.amount, plan.currency, whole=True)
        body.append([doc.Span("Total before tax", "strong"), "", doc.Span(total, "strong")])
    head = ("part", "why", *(["price"] if priced else []))
    note = [*([f"Ready in {plan.time}." if plan.time[:1].isdigit() else f"{plan.time}."]
              if plan.time else []), *_after(quote, show)]  # fmt: skip
    title = "What we propose, and what must change with it"
    yield doc.table(title, head, body, right=(2,) if priced else (), note=" ".join(note))


def _after(quote: Quote, show: Display) -> Iterator[str]:
    """The longest break-in that a new part asks for before full power."""
    asked = (one for one in quote.offer.changes if one.path.endswith(".break_in.distance"))
    far = [one.new.si for one in asked if isinstance(one.new, Quantity)]
    if far:
        said = show.distance(max(far))
        yield f"Then {said} of street driving before full power, and a second visit."


def _name(name: str) -> str:
    said = key_words(name)
    return f"{said[:1].upper()}{said[1:]}"


def _part(row: QuoteRow) -> str:
    """ "Clutch: Kelmark C-300, rated torque 385 N*m"."""
    if not row.changes:
        return _name(row.name)
    said = [*_maker(row)]
    chosen = sorted((c for c in row.changes if weighty(c.path)), key=lambda c: rank(c.path))
    for one in chosen[: 3 - len(said)]:
        if one.new is None:
            said.append(f"{field_words(one.path)} removed")
        else:
            words = field_words(one.path).removeprefix(key_words(row.name)).strip()
            words = words.removesuffix("kind").rstrip()
            said.append(f"{words} {value_text(one.new)}".strip())
    said = said or [*_pieces(row)]
    return f"{_name(row.name)}{': ' if said else ''}{', '.join(said)}"


def _pieces(row: QuoteRow) -> Iterator[str]:
    """The names of the parts that are new, where nothing else is to be said of them."""
    new = (one.path for one in row.changes if one.new is not None and ".part." in one.path)
    for head in dict.fromkeys(path.partition(".part.")[0] for path in new):
        yield field_words(head).removeprefix(key_words(row.name)).strip()


def _small(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def _told(row: QuoteRow) -> bool:
    """Whether anything but a note changes."""
    return any(not one.path.endswith((".note", ".source")) for one in row.changes)


def _maker(row: QuoteRow) -> Iterator[str]:
    new = {one.path: one.new for one in row.changes}
    names = [str(new[path]) for path in (f"{row.name}.part.maker", f"{row.name}.part.number")
             if new.get(path)]  # fmt: skip
    if names:
        yield " ".join(names)


def _why(row: QuoteRow, show: Display) -> str:
    if row.charge is not None and row.charge.why:
        return row.charge.why
    if row.gains:
        return "part of the gain"
    found = row.because
    if found is not None and found.before is not None and found.after is not None:
        limit, load = found.before.margin.capacity, found.after.margin.demand
        if limit is None:
            return f"today's has no stated limit ({found.name})"
        if load is not None and load.p50 > limit.p50:
            held, asked = (value(x.p50, found.after.kind, show) for x in (limit, load))
            return f"{found.name}: {held} today, about {asked} asked"
    return ""


def _price(row: QuoteRow, quote: Quote) -> str:
    if row.charge is None:
        return ""
    return money(Decimal(row.charge.price), quote.offer.plan.currency, whole=True)


def _close(quote: Quote, show: Display) -> Iterator[doc.Block]:
    known = [one for one in answers(quote.limits) if one.kind.unit != _OCTANE]
    told = [one for one in known if one.state in (State.OVER, State.CLOSE)]
    most = _LIMITS if len(quote.rows) <= _MANY else _FEW
    shown = told[:most] or known[:1]
    past = [one.name for one in told if one.state is State.OVER]
    if past:
        yield _named("Past its stated limit as proposed: " if len(past) == 1 else
                     "Past their stated limits as proposed: ", f"{', '.join(past)}.")  # fmt: skip
    if shown:
        yield limit_table(shown, show)
    rest = [one.name for one in told[most:]]
    more = f" and {len(rest) - _NAMES} more" if len(rest) > _NAMES else ""
    also = f"Close also: {', '.join(rest[:_NAMES])}{more}. " if rest else ""
    said = "Distances from stated limits, not approvals." if shown else "No limit can be answered."
    yield doc.para(f"{also}{said}", tone="quiet")
    others = [one.name for one in quote.limits
              if one.state is State.UNKNOWN and one.kind.unit != _OCTANE]  # fmt: skip
    if others:
        more = f" and {len(others) - _LIMITS} more" if len(others) > _LIMITS else ""
        yield _named(
            "Unknown limits, which is not clear: ", f"{', '.join(others[:_LIMITS])}{more}."
        )


def _blind(quote: Quote, show: Display) -> Iterator[doc.Block]:
    """Everything that the figures leave open, each under its name."""
    found, promise = quote.offer.predicted, quote.promise
    if promise.power is None and quote.offer.plan.promised is not None:
        yield _named("The gain: ", f"{quote.offer.plan.promised.reason}.")
    if found is not None and found.left_out:
        names = [field_words(path) for path in found.left_out]
        yield _named("Not in the figures: ", f"{listed(names[:_NAMES])}. No formula covers it.")
    yield from _knock(quote)
    yield from _width(quote, show)
    yield _named("What we find ", "with the car open. We call before any extra cost.")


def _knock(quote: Quote) -> Iterator[doc.Block]:
    """Octane: what this asks for beyond what ran; the octane an engine needs is never known."""
    for one in quote.limits:
        if one.kind.unit == _OCTANE:
            load, known = one.margin.demand, "the octane that this engine needs is not known."
            if load is not None and load.p50 > 0:
                known = f"it asks for {load.p50:.1f} octane more than what ran before; {known}"
            yield _named("Knock: ", known)


def _width(quote: Quote, show: Display) -> Iterator[doc.Block]:
    """What the width of the promise comes from, and what knowing it would do."""
    found = quote.offer.predicted
    if found is None or quote.promise.power is None or not found.raw.dominant:
        return
    width = found.raw.peak_power_ratio.width
    first = next((one for one in found.raw.dominant if one.width_if_known is not None), None)
    if first is None or not width or (first.width_if_known or width) > 0.97 * width:
        return
    scale = (quote.promise.power.p90 - quote.promise.power.p10) / width
    wide, then = (show.value(x * scale, "power", 0) for x in (width, first.width_if_known or 0.0))
    words = called(first.name)
    yield _named("The width of the promise ", f"comes mostly from the {words}. If known, {wide} "
                 f"narrows to {then}.")  # fmt: skip


def _named(name: str, said: str) -> doc.Para:
    return doc.para(doc.Span(name, "strong"), said)


def _cautions(quote: Quote) -> Iterator[str]:
    car = quote.offer.version.configuration
    told = [one.fact for one in legal.facts([quote.offer.base, quote.offer.version])]
    catalysts = any(one.path.startswith(_CATALYSTS) for one in quote.offer.changes)
    said = "Changed catalysts and more power" if catalysts else "More power"
    yield (f"Predicted figures are estimates, no guarantee and no approval. {said} may need "
           "approval, a registration entry and a word to your insurer. Local codes decide; ask "
           "before you order.")  # fmt: skip
    check = "the checks" if car.car.power_source == "electric" else "the light-load check"
    yield f"No full power until break-in and {check} are done."
    if told:
        yield f"For local codes: {in_units('; '.join(told))}."
    rated = car.engine.rated_power if car.engine else None
    made = f" were made for {declared(rated)}" if rated else " were made for the power it came with"
    yield f"Brakes, tires and driveline{made}. Have the car inspected before road use."


def _last_line(quote: Quote) -> str:
    plan = quote.offer.plan
    said = []
    if plan.amount is not None:
        said.append(
            f"Prices in {_MONEY.get(plan.currency or '', plan.currency or 'the currency agreed')}."
        )
    until = f"Valid until {day(plan.valid_until)}, for" if plan.valid_until else "For"
    said.append(f"{until} the car as it stood on {day(quote.base.date)}.")
    if plan.accepted is not None:
        said.append(f"Accepted {day(plan.accepted.date)}, {plan.accepted.how}.")
    if quote.shop or quote.signed:
        said.append(f"For {quote.shop or 'the shop'}: {quote.signed or '__________'}")
    return " ".join(said)
