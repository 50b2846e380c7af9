"""What the cells of a file leave open: decimal sign and order of dates, decided or asked."""

from __future__ import annotations

from datetime import date

from oiltrend.ingest.cells import Locale
from oiltrend.ingest.dates import choose_order
from oiltrend.ingest.matching import Plan
from oiltrend.ingest.model import Question, ReadOptions
from oiltrend.ingest.numbers import decimal_evidence, join_evidence, read_number
from oiltrend.ingest.sheet import Sheet

__all__ = ["decide_locale"]

_NUMERIC = ("number", "count", "meter", "reading")


def decide_locale(sheet: Sheet, plan: Plan, *, options: ReadOptions, today: date,
                  filename: str) -> tuple[Locale, tuple[Question, ...]]:
    r"""Decide the decimal sign and the order of dates of a file, or ask.

    Parameters
    ----------
    sheet : Sheet [-]
        Rows of text.
    plan : Plan [-]
        Which column is which.
    options : ReadOptions [-]
        What was said or is remembered.
    today : date [-]
        For two-digit years.
    filename : str [-]
        For messages.

    Returns
    -------
    tuple of Locale and tuple of Question [-]
        ``""`` in the locale for what is asked.

    Raises
    ------
    FileRefused
        When the dates of the file are in two orders.

    Examples
    --------
    >>> from oiltrend.ingest.matching import Matcher, plan_columns
    >>> from oiltrend.ingest.sheet import read_sheet
    >>> sheet = read_sheet("engine;hours;Fe\nE1;8.000;22,5\n", filename="a.csv", recognised=len)
    >>> plan = plan_columns(sheet.headings, kind="samples", filename="a.csv",
    ...                     matcher=Matcher("samples", ReadOptions()))
    >>> _, questions = decide_locale(sheet, plan, options=ReadOptions(), filename="a.csv",
    ...                              today=date(2026, 1, 1))
    >>> questions[0].code, questions[0].examples
    ('decimal', ('8.000', 'point: 8', 'comma: 8000'))
    """
    mapping = options.mapping
    decimal = options.decimal or (mapping.decimal if mapping else "")
    questions: list[Question] = []
    if not decimal:
        decimal, asked = _decimal(sheet, plan)
        questions += asked
    texts = [text for name, column in plan.columns.items() if column.type == "date"
             for text in sheet.cells[plan.position[name]].texts]
    given = options.date_order or (mapping.date_order if mapping else "")
    choice = choose_order(texts, given=given, today=today, where=filename)
    if choice.choices:
        heading = next(plan.heading(n) for n, c in plan.columns.items() if c.type == "date")
        questions.append(Question(
            "date_order", heading, f"In which order are day, month and year in '{heading}'? "
            f"'{choice.examples[0]}' could be read in more than one way.",
            choice.choices, choice.examples))
    return Locale(decimal, choice.order, today), tuple(questions)


def _decimal(sheet: Sheet, plan: Plan) -> tuple[str, list[Question]]:
    found = {name: decimal_evidence(sheet.cells[plan.position[name]].texts)
             for name, column in plan.columns.items()
             if column.type in _NUMERIC or name == "value"}
    evidence = join_evidence(found.values())
    heading = next((plan.heading(name) for name, one in found.items()
                    if one.maybe_point or one.maybe_comma), "")
    if evidence.decided:
        return evidence.decided, []
    text = evidence.maybe_point or evidence.maybe_comma
    if evidence.point and evidence.comma:
        text = ""
        asked = (f"Is the decimal sign a point or a comma? This file has both "
                 f"'{evidence.point}' and '{evidence.comma}'.")
        examples: tuple[str, ...] = (evidence.point, evidence.comma)
    elif text:
        asked = (f"Is the decimal sign a point or a comma? '{text}' in '{heading}' could be read "
                 "either way.")
        examples = (text, *_shown(text))
    else:
        asked = "Is the decimal sign a point or a comma?"
        examples = (evidence.point or evidence.comma_thousands,
                    evidence.comma or evidence.point_thousands)
    return "", [Question("decimal", heading, asked, ("point", "comma"), examples)]


def _shown(text: str) -> tuple[str, ...]:
    plain = text.lstrip("<>≤≥= ")
    return tuple(f"{sign}: {read_number(plain, sign).value:.15g}" for sign in ("point", "comma"))
