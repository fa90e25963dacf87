"""Action files: scripted operators as JSON Lines, one command a line."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from trainer.session import canonical
from trainer.session.commands import FREE, Command, Vocabulary, explain
from trainer.session.fitting import fit
from trainer.session.protocols import PlantProtocol

MOST_BYTES = 8_000_000
MOST_COMMANDS = 20_000
MOST_FAULTS_TOLD = 20
MOST_FAULTS_LOOKED_FOR = 1000

_EXAMPLE = '{"t": 12.5, "do": "set", "target": "pod_selector", "value": "blue"}'


class ActionFileError(ValueError):
    """An action file that cannot be played; ``faults`` has one sentence for each wrong line."""

    def __init__(self, faults: list[str]) -> None:
        told = faults[:MOST_FAULTS_TOLD]
        if len(faults) > len(told):
            told.append(f"and {len(faults) - len(told)} more")
        super().__init__("\n".join(told))
        self.faults = faults


def _line(text: str, machine: PlantProtocol | None, words: Vocabulary) -> Command | str:
    try:
        record = canonical.loads(text)
    except ValueError as error:
        return f"not a JSON object like {_EXAMPLE}: {error}"
    try:
        command = Command.model_validate(record)
    except ValidationError as error:
        return explain(error)
    return command if machine is None else fit(command, machine, words)


def parse(
    text: str, name: str = "actions", machine: PlantProtocol | None = None, words: Vocabulary = FREE
) -> list[Command]:
    """The commands of an action file's text, in order.

    Blank lines and lines that start with ``#`` are passed over. Times are simulated seconds from the start
    and never go backwards. With a ``machine``, what this plant or the drill's ``words`` lack is wrong too.
    Every wrong line is told at once, as ``name:line: sentence``, in ActionFileError.
    """
    if len(text) > MOST_BYTES:
        raise ActionFileError([f"{name}: larger than {MOST_BYTES} bytes; split the run"])
    commands: list[Command] = []
    faults: list[str] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        stripped = raw.strip().removeprefix("\ufeff")
        if not stripped or stripped.startswith("#"):
            continue
        found = _line(stripped, machine, words)
        if isinstance(found, Command) and commands and found.t < commands[-1].t:
            last = commands[-1].t
            found = f"time goes backwards: {found.t:g} s comes after {last:g} s; put the commands in order"
        if isinstance(found, str):
            faults.append(f"{name}:{number}: {found}")
        else:
            commands.append(found)
        if len(faults) >= MOST_FAULTS_LOOKED_FOR:
            faults.append(f"{name}: the lines after {number} were not looked at")
            break
    if len(commands) > MOST_COMMANDS:
        faults.append(f"{name}: {len(commands)} commands; at most {MOST_COMMANDS} can be played")
    if faults:
        raise ActionFileError(faults)
    return commands


def read(path: Path, machine: PlantProtocol | None = None, words: Vocabulary = FREE) -> list[Command]:
    """The commands of the action file at ``path``, as ``parse`` reads them.

    ActionFileError also when the file is missing or cannot be read.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ActionFileError([f"{path}: larger than {MOST_BYTES} bytes; split the run"])
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise ActionFileError([f"{path}: not UTF-8 text (byte {error.start}); save it as UTF-8"]) from error
    except OSError as error:
        raise ActionFileError([f"{path}: cannot be read: {error.strerror or error}"]) from error
    return parse(text, str(path), machine, words)
