"""The command line's door: errors become one sentence and an exit code, never a traceback.

0 where it answered, 2 for what was given and cannot be used, 3 for a network that fails, 4 where the record or the
handbook carries no answer, 130 for an interrupt.
"""

# nothing is imported here that Python has not loaded by itself: an interrupt is told from `main` on
import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["main"]


def main(arguments: "Sequence[str] | None" = None) -> int:
    """Run one command; the exit code is 0 where it answered.

    Without arguments it is the program itself and answers to interrupts in its own way, from here on: what comes while
    Python itself starts cannot be helped. With arguments signals are left to the caller.
    """
    interrupts: list[int] = []
    try:
        if arguments is None:
            _answer_interrupts(_end_at_once)
            _look_for_rings_less_often()
        from importlib import import_module

        from sowcal.commands.common import language_of, tell, units_of
        from sowcal.commands.parser import module_of, parse
        from sowcal.errors import SowcalError
        from sowcal.languages import speaking
        from sowcal.progress import shown_on
        from sowcal.units import measuring

        try:
            options = parse(sys.argv[1:] if arguments is None else list(arguments))
            import_module(f"sowcal.commands.{module_of(options.command)}")
            if arguments is None:
                _answer_interrupts(_stop(interrupts))
            with shown_on(sys.stderr), speaking(language_of(options)), measuring(units_of(options)):
                return options.run(options) or 0
        except SowcalError as error:
            tell(error)
            return error.exit_code
        except BrokenPipeError:  # the reader of a pipe went away (`sowcal chart | head`)
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return 0
    except BaseException as problem:
        # what libraries make of an interrupt in the middle of their own imports is not always a KeyboardInterrupt
        if not interrupts and not isinstance(problem, KeyboardInterrupt):
            raise
        if sys.stderr is not None:
            print("sowcal: stopped", file=sys.stderr, flush=True)
        if interrupts:  # all is put away; a library stopped within its own import can break Python's end
            os._exit(130)
        return 130
    finally:
        if arguments is None:
            _answer_interrupts(None)


def _look_for_rings_less_often() -> None:
    """Let Python look for unused rings of objects after many more new ones: a command makes hardly any."""
    import gc

    gc.set_threshold(100_000, 50, 50)  # else a tenth of a second question's time


def _end_at_once(*_: object) -> None:
    """End, while modules are loaded: nothing is begun that would have to be put away."""
    os.write(2, b"sowcal: stopped\n")
    os._exit(130)


def _answer_interrupts(how: "Callable[[int, object], None] | None") -> None:
    """What is done at an interrupt from now on; None for an end without a word, when all is said."""
    import signal

    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:  # who started it, or the first interrupt, wants no other
        signal.signal(signal.SIGINT, how or signal.SIG_DFL)


def _stop(heard: list[int]) -> "Callable[[int, object], None]":
    """Raise KeyboardInterrupt, once, and note it."""

    def stop(number: int, _: object) -> None:
        import signal

        signal.signal(signal.SIGINT, signal.SIG_IGN)
        heard.append(number)
        raise KeyboardInterrupt

    return stop


if __name__ == "__main__":
    sys.exit(main())
