"""The conformance suite as data: one small TOML file a case, and what runs them against any implementation.

Law of this package: a case says what the clauses of the language say. Whatever implements the language is a *subject*
behind a small adaptor, and the implementation beside it is only the default one.
"""

from __future__ import annotations

from boardgauge.cases.case import (
    SUITE,
    BadCase,
    Case,
    FirstDeviation,
    all_cases,
    case_schema,
    read_case,
    read_case_text,
)
from boardgauge.cases.external import External
from boardgauge.cases.ours import Ours
from boardgauge.cases.runner import Result, run_case
from boardgauge.cases.sides import ClauseCases, cases_by_clause
from boardgauge.cases.subject import Broke, Judged, Played, Refused, Row, Skipped, Subject

__all__ = [
    "SUITE",
    "BadCase",
    "Broke",
    "Case",
    "ClauseCases",
    "External",
    "FirstDeviation",
    "Judged",
    "Ours",
    "Played",
    "Refused",
    "Result",
    "Row",
    "Skipped",
    "Subject",
    "all_cases",
    "case_schema",
    "cases_by_clause",
    "read_case",
    "read_case_text",
    "run_case",
]
