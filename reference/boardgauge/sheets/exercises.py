"""Make exercises of a board: seeded, at three levels, each answered by simulating it.

Law of this module: the same seed makes the same exercises. A situation is taken out of one of the board's own stories,
something is done to it, and the simulated board gives the answer at nominal times. Nothing is asked twice on a sheet,
and what has the answer that nothing happens is asked now and then only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice
from random import Random

from attrs import define, field

from boardgauge.drawings import words
from boardgauge.language.model import InputKind
from boardgauge.language.quantities import S
from boardgauge.machine.input_ways import levels_read
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import POWER, Run
from boardgauge.machine.terminals import TooShort
from boardgauge.sheets import readings
from boardgauge.sheets.answers import is_seen, plain, plain_for_all, takes_time, until_rest
from boardgauge.sheets.blocks import Block, Points, Steps
from boardgauge.sheets.chart_exercise import blank_chart, full_chart
from boardgauge.sheets.exercise import Exercise, Kind, Level
from boardgauge.sheets.exercise_words import beginning, done, facts_of, lamp_at_the_end, limits_table, what_is_done
from boardgauge.sheets.figures import sentence
from boardgauge.sheets.lamp_exercise import lamp_exercise
from boardgauge.sheets.recipes import Change, Recipe, answer, changes_of
from boardgauge.sheets.stories import Story, stories
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import lamp_name

_MOST_TRIES = 400
_MOST_PASSED_OVER = 40
"""So many exercises are passed over for one in which something else is done than in those before."""
_NOTHING = 0.06
_BY_LEVEL: dict[Level, tuple[Kind, ...]] = {
    1: ("one event", "lamp", "one event"),
    2: ("sequence",),
    3: ("chart", "lockout", "power loss", "sequence"),
}


def exercises(study: Study, level: Level, number: int, seed: int) -> tuple[Exercise, ...]:
    """Give exercises at a level; fewer where a board does not have so many different ones."""
    return tuple(islice(_Maker(study, level, Random(f"{seed} {level}")).all(), number))


@define
class _Maker:
    study: Study
    level: Level
    chance: Random
    told: list[Story] = field(factory=list)
    asked: set[object] = field(factory=set)
    done: set[object] = field(factory=set)
    passed_over: int = 0
    nothings: int = 0

    def all(self) -> Iterator[Exercise]:
        told = stories(self.study)[0]
        # Of a board without inputs the supply is all there is to tell of.
        self.told = [story for story in told if story.kind != "power-up"] or list(told)
        makers: dict[Kind, Callable[[], Exercise | None]] = {
            "lamp": self._lamp,
            "one event": self._event,
            "sequence": self._event,
            "power loss": self._power_loss,
            "lockout": self._lockout,
            "chart": self._chart,
        }
        kinds = [kind for kind in _BY_LEVEL[self.level] if kind != "lamp" or self.study.board.lamps]
        tries = made = 0
        while tries < _MOST_TRIES:
            kind = kinds[made % len(kinds)]
            tries += 1
            passed_over = self.passed_over
            try:
                found = makers[kind]()
            except (CannotSettle, TooShort):
                found = None
            if self.passed_over > passed_over:
                tries -= 1
                continue
            if found is None:
                # A kind that a board has none of (left) gives its place to the next.
                if tries % 12 == 0:
                    made += 1
                continue
            made += 1
            tries = tries // 12 * 12
            yield found

    # -- one event, and what follows --------------------------------------------------------------------------------

    def _event(self) -> Exercise | None:
        """Take a moment out of a story and do something then."""
        found = self._moment()
        if found is None:
            return None
        story, time, run = found
        change = self._change(run, time)
        if change is None:
            return None
        recipe = Recipe((*changes_of(run, time), change), story.start, time, time)
        recipe = until_rest(self.study, self.level, recipe, time)
        return self._ask(story, recipe, (change,), "sequence" if self.level > 1 else "one event")

    def _power_loss(self) -> Exercise | None:
        """Take the supply away for some seconds."""
        found = self._moment()
        if found is None:
            return None
        story, time, run = found
        away = self.chance.choice((5, 10, 20, 60)) * S
        changes = (Change(time, POWER, False), Change(time + away, POWER, True))
        recipe = Recipe((*changes_of(run, time), *changes), story.start, time, time)
        recipe = until_rest(self.study, self.level, recipe, time + away)
        return self._ask(story, recipe, changes, "power loss")

    def _moment(self) -> tuple[Story, int, Run] | None:
        if not self.told:
            return None
        story = self.chance.choice(self.told)
        entry = self.chance.choice(story.entries)
        after = self.chance.choice((3, 5, 10, 15, 20, 30, 60, 90))
        time = -(-(entry.time + after * S) // S) * S
        later = [one.time for one in story.entries if one.time > entry.time]
        inputs = [at for row in story.run.inputs.values() for at, _ in row.changes if at > entry.time]
        if not story.run.power.at(time):
            return None  # a board that is dead answers nothing, and cannot lose the power again
        if later and time >= min(later) - 2 * S and time not in later and min([*inputs, 1 << 62]) <= time + 3 * S:
            return None
        return story, time, story.run

    def _change(self, run: Run, time: int) -> Change | None:
        machine, board = self.study.machine, self.study.board
        read = levels_read(machine)
        names = sorted({level.input for level in machine.levels if read[level.index]})
        if not names:
            return None
        name = self.chance.choice(names)
        now = run.inputs[name].at(time)
        if board.inputs[name].kind is not InputKind.SENSOR:
            return Change(time, name, not now)
        rows = [level for level in machine.levels if level.input == name]
        held = self._levels_at(run, time)
        before = [held[row.index] for row in rows]
        turned = self.chance.randrange(len(rows))
        wanted = [value != (index == turned) for index, value in enumerate(before)]
        found = readings.reading(board, rows, before, wanted)
        return None if found is None else Change(time, name, found)

    def _levels_at(self, run: Run, time: int) -> tuple[bool, ...]:
        entries = [entry for entry in run.story if entry.time <= time]
        return entries[-1].config.levels if entries else self.study.engine.off().levels

    def _ask(self, story: Story, recipe: Recipe, changes: tuple[Change, ...], kind: Kind) -> Exercise | None:
        run = recipe.run(self.study)
        facts = facts_of(self.study, run, recipe)
        if any(e.causes.expired and e.causes.changes and e.time == recipe.asked for e, _ in answer(run, recipe)):
            return None  # what is done as a time runs out by chance leaves open what came of which
        key = (kind, tuple((one.name, one.value) for one in changes), tuple(plain(self.study, run, recipe)))
        if key in self.asked or (kind != "power loss" and self._is_done_again(changes)):
            return None
        if not plain_for_all(self.study, run, recipe):
            return None
        nothing = not is_seen(self.study, run, recipe)
        if self.level > 1 and kind == "sequence" and not nothing and not takes_time(self.study, run, recipe):
            return None
        if nothing and (self.nothings or self.chance.random() > _NOTHING):
            return None
        self.asked.add(key)
        self.done.add(_deeds(changes))
        self.passed_over = 0
        self.nothings += nothing
        told = list(recipe.told(self.study))
        before = [one for one in told if one.time < recipe.asked]
        given: list[Block] = [Steps(tuple(done(self.study, one, recipe) for one in before))] if before else []
        event = " ".join(sentence(done(self.study, one, recipe)) for one in changes)
        lamps = [lamp_name(self.study.board, lamp) for lamp in self.study.board.lamps]
        shows = f" What does the {lamps[0]} show then?" if lamps else ""
        if self.level == 1:
            ask = f"Which outputs change at once, and how?{shows}"
        else:
            ask = f"What does the board do from then on, step by step, and when?{shows.replace(' then', '')}"
        title = sentence(what_is_done(self.study, changes[0])).rstrip(".")
        table = limits_table(self.study, recipe) if self.level > 1 else None
        end: list[Block] = [Steps(facts)] if facts else [Points(("Nothing is seen to happen.",))]
        end += (
            [Points((lamp_at_the_end(self.study, run, "Then" if self.level == 1 else "At the end"),))] if lamps else []
        )
        end += [table] if table is not None else []
        return Exercise(
            kind,
            self.level,
            title,
            (Points((beginning(self.study, story, recipe),)), *given),
            (f"{event} Everything else stays as it is. {ask}",),
            3 if self.level == 1 else 6,
            facts,
            tuple(end),
            recipe,
            nothing,
        )

    def _is_done_again(self, changes: tuple[Change, ...]) -> bool:
        """Tell whether just this was done in an exercise before, and there may well be something else to do."""
        again = _deeds(changes) in self.done and self.passed_over < _MOST_PASSED_OVER
        self.passed_over += again
        return again

    # -- the lamp ---------------------------------------------------------------------------------------------------

    def _lamp(self) -> Exercise | None:
        """Show a pattern; ask what it means and what is on."""
        states = [one for one in self.study.states.states if one.powered and any(line >= 0 for _, line in one.lamps)]
        state = self.chance.choice(states)
        lamp, line = self.chance.choice(state.lamps)
        if ("lamp", lamp, line) in self.asked:
            return None
        self.asked.add(("lamp", lamp, line))
        return lamp_exercise(self.study, self.level, lamp, line)

    # -- whole stories ----------------------------------------------------------------------------------------------

    def _lockout(self) -> Exercise | None:
        """Tell all that is done on the way to a lockout or mode and out of it; ask when it comes and what clears it."""
        kinds = [one for one in self.told if one.kind in {"lockout", "mode"}]
        if not kinds:
            return None
        story = self.chance.choice(kinds)
        if ("lockout", story.about) in self.asked:
            return None
        self.asked.add(("lockout", story.about))
        recipe = self._of_story(story)
        run = recipe.run(self.study)
        facts = facts_of(self.study, run, recipe)
        counts = [
            row
            for row in self.study.machine.regions
            if row.kind == "count" and any(entry.config.places[row.index] for entry, _ in answer(run, recipe))
        ]
        ask = f"When does {words.thing(self.study.board, story.about[0])} come about, and what ends it?"
        if counts:
            ask += " How far has the board counted after each step?"
        table = limits_table(self.study, recipe)
        given = Steps(tuple(done(self.study, one, recipe) for one in recipe.told(self.study)))
        return Exercise(
            "lockout",
            self.level,
            sentence(words.thing(self.study.board, story.about[0])).rstrip("."),
            (Points((beginning(self.study, story, recipe),)), given),
            (ask,),
            6,
            facts,
            (Steps(facts), *((table,) if table else ())),
            recipe,
        )

    def _of_story(self, story: Story) -> Recipe:
        end = story.entries[-1].time + 3 * S
        return Recipe(tuple(changes_of(story.run, end)), story.start, story.start, end)

    def _chart(self) -> Exercise | None:
        """Give the inputs of a story as a chart; the outputs and the lamp are drawn in by the class."""
        # How a board is switched on is no input that could be drawn.
        told = [story for story in self.told if story.kind != "power-up"]
        if not told:
            return None
        story = self.chance.choice(told)
        if ("chart", story.kind, story.about) in self.asked:
            return None
        recipe = self._of_story(story)
        blank, full = blank_chart(self.study, story), full_chart(self.study, story)
        if blank is None or full is None:
            return None
        self.asked.add(("chart", story.kind, story.about))
        lamp = ", and write what the lamp shows" if self.study.board.lamps else ""
        facts = facts_of(self.study, recipe.run(self.study), recipe)
        table = limits_table(self.study, recipe)
        return Exercise(
            "chart",
            self.level,
            "Draw the chart",
            (Points((beginning(self.study, story, recipe),)), blank),
            (
                f"The inputs are drawn. Draw into the empty boxes what each output does{lamp}. "
                "Write down how long each delay lasts, and between which limits.",
            ),
            3,
            facts,
            (full, Steps(facts), *((table,) if table else ())),
            recipe,
        )


def _deeds(changes: tuple[Change, ...]) -> tuple[object, ...]:
    """Give what is done, whatever the time and, of a sensor, the reading."""
    return tuple((one.name, one.value if isinstance(one.value, bool) else None) for one in changes)
