"""Values of parsed JSON, checked for the shape that is asked for; BenchError says where one is wrong."""

from collections.abc import Mapping, Sequence
from math import inf, isfinite

from .errors import BenchError
from .json_text import shown


def mapping(value, where: str) -> Mapping:
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise BenchError(where, f"{where}: give an object of names and values, got {shown(value)}.")
    return value


def only(data, known: tuple[str, ...], where: str) -> Mapping:
    data = mapping(data, where)
    for key in data:
        if key not in known:
            raise BenchError(f"{where}.{key}", f'{where}: "{key}" is not known here. Known: {", ".join(known)}.')
    return data


def listed_in(value, where: str, most: int) -> Sequence:
    if not isinstance(value, list | tuple):
        raise BenchError(where, f"{where}: give a list, got {shown(value)}.")
    if len(value) > most:
        raise BenchError(where, f"{where}: holds {len(value)} entries; accepted: {most} at most.")
    return value


def number(value, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BenchError(where, f"{where}: give a number, got {shown(value)}.")
    try:
        found = float(value)
    except OverflowError:
        found = inf
    if isfinite(found):
        return found
    raise BenchError(where, f"{where}: {shown(value)} is not a number that can be used. Give a finite number.")
