"""The commands: parse, call, phrase.

Receives: what a person types.
Gives: text on stdout, progress and warnings on stderr, an exit code: 0 fine, 1 breaches (``check`` only),
2 the input is wrong, 3 could not write, 4 a mistake of the program, 130 interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import click

from planbuilder import __version__
from planbuilder.cli import ground, living, planning, showing, squad
from planbuilder.cli.terminal import aside

__all__ = ["cli", "main"]

TRACE_VARIABLE: Final = "PLANBUILDER_TRACE"  # set, an unforeseen mistake is shown whole


class InOrder(click.Group):
    """Commands in the order of the work, and a question when one is misspelt."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        from planbuilder.settings.problems import did_you_mean

        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            raise click.UsageError(
                f"{error.message} {did_you_mean(args[0], self.commands)}".strip(), ctx
            ) from None


@click.group(cls=InOrder, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="planbuilder")
def cli() -> None:
    """Build a block of training weeks and a race plan from the course a squad will race on.

    A block is a folder with a block.toml, a course file and what else a coach keeps for one race. Guidance
    for healthy runners and their coaches, not medical advice.

    Exit codes: 0 fine, 1 breaches (check only), 2 the input is wrong, 3 a file could not be written, 4 a
    mistake of the program, 130 interrupted.
    """


for _command in (
    planning.new,
    ground.course,
    ground.race,
    planning.build,
    squad.night,
    squad.board,
    planning.check,
    planning.why,
    planning.rules,
    ground.rehearse,
    living.log,
    living.edit,
    living.replan,
    living.undo,
    living.forget,
    showing.publish,
    showing.changes,
    showing.serve,
):
    cli.add_command(_command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and turn what goes wrong into one clear sentence and an exit code."""
    from planbuilder.settings.problems import CannotWrite, InputProblems, PlanbuilderError

    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")  # looking for some takes a tenth of a second
    try:
        cli.main(args=arguments, prog_name="planbuilder", standalone_mode=False)
    except click.exceptions.Abort:
        _leave("Stopped; what was written before is whole.", 130)
    except KeyboardInterrupt:
        _leave("Stopped; what was written before is whole.", 130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except InputProblems as error:
        _leave(str(error), 2)
    except CannotWrite as error:
        _leave(str(error), 3)
    except PlanbuilderError as error:
        _leave(str(error), 2)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:  # whatever nobody foresaw is a sentence too
        _leave(_unforeseen(error), 4)


def _unforeseen(error: Exception) -> str:
    """One sentence for a mistake of ours: what, where, how to see more; the trace itself where asked for."""
    import traceback

    if os.environ.get(TRACE_VARIABLE):
        traceback.print_exception(error)
    at = traceback.extract_tb(error.__traceback__)[-1:]
    where = f" at {Path(at[0].filename).name}:{at[0].lineno}" if at else ""
    what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    return (
        f"planbuilder: here is a mistake of the program{where} ({what}). What was written before is whole. "
        f"{TRACE_VARIABLE}=1 before the command shows more for a report."
    )


def _leave(text: str, code: int) -> None:
    aside(text)
    sys.exit(code)
