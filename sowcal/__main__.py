"""The command line's door: errors become one sentence and an exit code, never a traceback."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from sowcal.errors import SowcalError

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 where it answered."""
    from sowcal.commands.parser import parse
    from sowcal.commands.progress_line import shown_progress

    try:
        options = parse(sys.argv[1:] if arguments is None else list(arguments))
        with shown_progress(sys.stderr):
            return options.run(options) or 0
    except SowcalError as error:
        from sowcal.commands.common import said

        print(f"sowcal: {said(error)}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:  # the reader of a pipe went away (`sowcal chart | head`)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("sowcal: stopped", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
