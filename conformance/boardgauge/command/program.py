"""The program ``boardgauge`` and its commands.

Law of this module: a command parses, calls one function and prints; whatever takes long to import is imported where it
is used, so that ``--help`` answers at once.
"""

from __future__ import annotations

import os

import click

from boardgauge.command.behaviour_commands import demo, faults, simulate
from boardgauge.command.bench_commands import bench, plan
from boardgauge.command.drawing_commands import chart, draw
from boardgauge.command.editor_commands import completion, schema
from boardgauge.command.recording_commands import convert, diagnose, judge, lamp, look
from boardgauge.command.records_commands import certificate, records
from boardgauge.command.spec_commands import boards, compare, export, new, vet
from boardgauge.command.teaching_commands import handout, identify, page, sensor, show, worksheet

CAUTION = (
    "Boards on the bench carry line voltage and charged capacitors, and units refrigerant pressure, gas and moving "
    "fans. Follow local codes; leave live work to licensed people; never leave a speed-up link or a jumper on a safety "
    "switch."
)


SECTIONS: dict[str, tuple[click.Command, ...]] = {
    "Specs": (new, vet, boards, compare, export, schema),
    "Behaviour": (simulate, faults, demo),
    "Recordings": (look, convert, judge, diagnose, lamp),
    "On the bench": (plan, bench),
    "Records": (records, certificate),
    "Drawings": (draw, chart),
    "Teaching and service": (handout, show, page, worksheet, identify, sensor),
    "The shell": (completion,),
}
"""The commands, by what a person has in hand or is after."""


class _Sections(click.Group):
    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or tell the nearest one; ``help`` is what many try first."""
        given = args[0] if args else ""
        if given == "help" and not ctx.resilient_parsing:
            return "help", click.Command("help", callback=lambda: click.echo(ctx.get_help()), add_help_option=False), []
        if given and not given.startswith("-") and given not in self.commands and not ctx.resilient_parsing:
            from boardgauge.language.problems import nearest_of

            near = nearest_of(given, self.commands)
            hint = f"; did you mean {near!r}?" if near else "; boardgauge --help lists them"
            ctx.fail(f"there is no command {given!r}{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands section by section, each with the whole of its first sentence."""
        for title, commands in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(c.name or "", c.get_short_help_str(limit=200)) for c in commands])


@click.group(cls=_Sections, context_settings={"help_option_names": ["-h", "--help"]}, epilog=CAUTION)
@click.version_option(package_name="boardgauge", message="%(prog)s %(version)s")
def main() -> None:
    """Hold a control board against its spec.

    BOARD is the path of a board spec (a TOML file) or the id of a board of the library; `boardgauge boards` lists them.

    Exit status: 0 all conform, 1 at least one deviates, 2 something could not be read or used, 3 none deviates but
    some are undecided.
    """
    # numpy would start a thread on every core, here and in each worker, for algebra that nothing of this needs.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


for _commands in SECTIONS.values():
    for _command in _commands:
        main.add_command(_command)

if os.environ.get("_BOARDGAUGE_COMPLETE"):
    from boardgauge.command.completing import complete

    complete(main)
