"""Which state is a board in, by what can be seen of it, and what to measure next."""

from boardgauge.identifying.account import Account, Ahead, account
from boardgauge.identifying.experiments import Experiment, Outcome, next_experiment
from boardgauge.identifying.facts import Fact, InputFact, LampFact, OutputFact, PowerFact, candidates
from boardgauge.identifying.knowledge import Candidate, Knowledge, Situation
from boardgauge.identifying.likeness import Likeness, likeness_words, likenesses
from boardgauge.identifying.tree import Leaf, Node, Question, decision_tree

__all__ = [
    "Account",
    "Ahead",
    "Candidate",
    "Experiment",
    "Fact",
    "InputFact",
    "Knowledge",
    "LampFact",
    "Leaf",
    "Likeness",
    "Node",
    "Outcome",
    "OutputFact",
    "PowerFact",
    "Question",
    "Situation",
    "account",
    "candidates",
    "decision_tree",
    "likeness_words",
    "likenesses",
    "next_experiment",
]
