"""The fault library: what can be wrong with a board, each fault a machine of its own.

``faults_of`` lists the single faults of a board, worked out from its spec; ``run_faulty`` does a scenario with one.

Law of this package: it knows the language and the machine, and judges nothing.
"""

from __future__ import annotations

from boardgauge.faults.fault import GROUPS, Fault, Group
from boardgauge.faults.listing import UnknownFault, fault_of, faults_of
from boardgauge.faults.running import engine_of, run_faulty

__all__ = ["GROUPS", "Fault", "Group", "UnknownFault", "engine_of", "fault_of", "faults_of", "run_faulty"]
