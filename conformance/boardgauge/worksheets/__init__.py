"""Worksheets with exercises on faulty boards, which only the fault library and the judge can make and answer."""

from boardgauge.worksheets.find_the_fault import fault_exercises

__all__ = ["fault_exercises"]
