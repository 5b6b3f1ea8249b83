"""Diagnosis: which faults explain a recording, what they predict, and what would tell them apart.

Law of this package: it asks the judge about faulty boards, and knows nothing that the judge does not.
"""

from __future__ import annotations

from boardgauge.diagnosis.diagnosing import Diagnoser, diagnose
from boardgauge.diagnosis.explanation import Diagnosis, Explanation, NextStep, Size

__all__ = ["Diagnoser", "Diagnosis", "Explanation", "NextStep", "Size", "diagnose"]
