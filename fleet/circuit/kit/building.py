"""Builds the file of a circuit from what was chosen, block by block. Blocks and choices are data."""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from fleet.catalogue import GASES
from fleet.circuit.file_text import write_circuit
from fleet.circuit.files import read_circuit
from fleet.circuit.structure import Circuit

FOLDER = Path(__file__).parent
KIT_GASES = ("oxygen", "nitrous-oxide", "air")
HIGHEST_OUTPUT = MappingProxyType(  # %, as dials are graduated: common practice, no source
    {"sevoflurane": 8, "isoflurane": 5, "desflurane": 18, "enflurane": 7, "halothane": 5}
)
YES, NO, NONE = "yes", "no", "none"


@dataclass(frozen=True, slots=True)
class Choice:
    """One question of the kit; `options` maps accepted answers to words, a tick has "no" and "yes"."""

    code: str
    label: str
    heading: str
    options: Mapping[str, str]
    is_tick: bool

    @property
    def default(self) -> str:
        return next(iter(self.options))


def _choices() -> Mapping[str, Choice]:
    rows = tomllib.loads((FOLDER / "choices.toml").read_text(encoding="utf-8"))["choice"]
    ticks = {NO: "no", YES: "yes"}
    found = (
        Choice(row["code"], row["label"], row["heading"], dict(row.get("options", ())) or ticks, "options" not in row)
        for row in rows
    )
    return MappingProxyType({choice.code: choice for choice in found})


CHOICES = _choices()
BLOCKS = tuple(tomllib.loads((FOLDER / "blocks.toml").read_text(encoding="utf-8"))["block"])


def whole_choices(chosen: Mapping[str, str]) -> dict[str, str]:
    """Return an answer for every choice: as chosen, else the default. Raises ValueError for an unknown answer."""
    unknown = chosen.keys() - CHOICES.keys()
    if unknown:
        raise ValueError(f"{', '.join(sorted(unknown))}: not a choice of the kit. Accepted: {', '.join(CHOICES)}.")
    whole = {code: chosen.get(code, choice.default) for code, choice in CHOICES.items()}
    for code, answer in whole.items():
        if answer not in CHOICES[code].options:
            accepted = ", ".join(CHOICES[code].options)
            raise ValueError(f"{code}: {answer!r} is not accepted. Accepted: {accepted}.")
    return whole


def build_circuit(chosen: Mapping[str, str], *, title: str, fittings: tuple[str, ...] = ()) -> Circuit:
    """Return the circuit of a machine of which these choices hold.

    chosen    code of a choice -> code of its answer; what is left out takes the default
    fittings  codes of features that no component shows
    A choice that the others leave without meaning, such as a ratio link without nitrous oxide, adds nothing.
    """
    built = _Building(whole_choices(chosen))
    for block in BLOCKS:
        built.add(block)
    data = {"title": title, "fittings": list(fittings), "component": built.components, "connection": built.connections}
    return read_circuit(_toml(data), title=title)


def circuit_file(chosen: Mapping[str, str], *, title: str, fittings: tuple[str, ...] = ()) -> str:
    """Return the same as the text of a circuit file."""
    return write_circuit(build_circuit(chosen, title=title, fittings=fittings))


class _Building:
    """The components and connections so far, and the present end of each line of pipe."""

    def __init__(self, answers: Mapping[str, str]):
        self.answers = dict(answers)
        agents = [self.answers[f"vaporizer-{number}"] for number in (1, 2)]
        self.answers["vaporizers"] = str(sum(agent != NONE for agent in agents))
        self.answers["other-gases"] = YES if len(self._gases("gas")) > 1 else NO
        self.words = {f"vaporizer-{number}": agent for number, agent in enumerate(agents, start=1)}
        self.numbers = {f"{{highest-{number}}}": HIGHEST_OUTPUT.get(agent) for number, agent in enumerate(agents, 1)}
        self.components, self.connections, self.ends = [], [], {}

    def add(self, block: Mapping) -> None:
        if not all(self._holds(condition) for condition in block.get("when", ())):
            return
        for gas in self._gases(block["each"]) if "each" in block else ("",):
            words = {"gas": gas, "Gas": GASES[gas].name} if gas else {}
            self._place(_filled(block, words | self.words, self.numbers))

    def _holds(self, condition: str) -> bool:
        code, _, accepted = condition.partition("=")
        return self.answers[code] in accepted.split("|")

    def _gases(self, each: str) -> tuple[str, ...]:
        supplied = [gas for gas in KIT_GASES if self.answers[gas] != NONE]
        if each == "other":
            return tuple(supplied[1:])
        return tuple(gas for gas in supplied if each == "gas" or self.answers[gas] in ("both", each))

    def _place(self, block: Mapping) -> None:
        self.components += block.get("component", ())
        line = block.get("line", "")
        if "keep" in block:
            self.ends[block["keep"]] = self.ends[line]
        if "enter" in block:
            self._connect(self.ends[line], block["enter"], block.get("size", ""))
        if "leave" in block:
            self.ends[line] = block["leave"]
        if "join" in block:
            self._join(line, block["join"])
        for connection in block.get("connection", ()):
            self._further(connection)

    def _join(self, line: str, port: str) -> None:
        if line in self.ends:
            self._connect(port, self.ends[line])
        else:
            self.ends[line] = port

    def _further(self, connection: Mapping) -> None:
        source, target = (self._port(connection[key]) for key in ("from", "to"))
        if source and target:
            self._connect(source, target, connection.get("size", ""))

    def _port(self, name: str) -> str:
        """Return a port, the end of a line for "@line", or nothing for one that is not there."""
        if name.startswith("@"):
            return self.ends.get(name[1:], "")
        there = {component["code"] for component in self.components}
        return name if name.partition(".")[0] in there else ""

    def _connect(self, source: str, target: str, size: str = "") -> None:
        self.connections.append({"from": source, "to": target, **({"size": size} if size else {})})


def _filled(value, words: Mapping[str, str], numbers: Mapping[str, float | None]):
    """Return a block with the names of its gas and agents in place of their marks."""
    if isinstance(value, str):
        if value in numbers:
            return numbers[value]
        for mark, word in words.items():
            value = value.replace(f"{{{mark}}}", word)
        return value
    if isinstance(value, Mapping):
        return {key: _filled(one, words, numbers) for key, one in value.items()}
    return [_filled(one, words, numbers) for one in value] if isinstance(value, list) else value


def _toml(data: Mapping) -> str:
    return "\n".join(_lines(data))


def _lines(data: Mapping) -> Iterator[str]:
    for key, value in data.items():
        yield f"{key} = {_inline(value)}"


def _inline(value) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_inline(one)}" for key, one in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ",\n".join(_inline(one) for one in value) + "]"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return repr(value)
