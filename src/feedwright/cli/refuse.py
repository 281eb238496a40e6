"""How a refusal is said on the terminal, be it ours or that of the library which reads the command line."""

import json
import sys

import typer

from feedwright.errors import BadInput, FeedwrightError


def say_refusal(refusal: FeedwrightError, *, as_json: bool) -> None:
    """What was refused, where, what was expected and what to do; on stderr, its four fields with ``as_json``."""
    if as_json:
        print(json.dumps(refusal.as_dict(), ensure_ascii=False), file=sys.stderr)
        return
    where = f"{refusal.subject} ({refusal.place})" if refusal.place else refusal.subject
    who = "" if where.startswith("feedwright") else "feedwright: "
    print(f"{who}{where}: {refusal.expected}", file=sys.stderr)
    if refusal.remedy:
        print(f"  what to do: {refusal.remedy}", file=sys.stderr)


def refusal_of_command_line(error: Exception) -> BadInput:
    """A fault of the command line itself as a refusal that says what to do."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "feedwright"
    if getattr(error, "option_name", "").lstrip("-")[:1].isdigit():
        return BadInput(
            command,
            place=f"“{error.option_name}”",  # type: ignore[attr-defined]
            expected="a number below zero looks like an option",
            remedy="give the options first, then -- and after it the arguments",
        )
    said = (error.format_message() if isinstance(error, typer.TyperException) else str(error)).rstrip(".")
    expected = said.replace("Input should be", "expected").partition(", unable")[0]
    wrong: list[dict[str, object]] = getattr(error.__cause__, "errors", list)()
    given = f"“{wrong[0]['input']}”" if wrong else ""
    return BadInput(
        command, place=given, expected=expected[:1].lower() + expected[1:], remedy=f"see `{command} --help`"
    )
