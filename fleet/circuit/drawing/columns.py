"""Assigns columns by the longest path from the supplies, also in circuits with loops."""

from collections.abc import Collection, Mapping

Ways = Mapping[str, tuple[str, ...]]


def within(ways: Ways, codes: Collection[str]) -> Ways:
    """Return the flow graph of these components alone."""
    kept = set(codes)
    return {code: tuple(other for other in ways[code] if other in kept) for code in sorted(kept)}


def without_loops(ways: Ways) -> Ways:
    """Return the flow graph without backward edges, starting from the components without inflow."""
    led_to = {other for others in ways.values() for other in others}
    starts = sorted(ways, key=lambda code: (code in led_to, code))
    kept: dict[str, list[str]] = {code: [] for code in ways}
    done, open_now = set(), set()
    for start in starts:
        stack = [] if start in done else [(start, iter(ways[start]))]
        open_now.update(code for code, _ in stack)
        while stack:
            code, others = stack[-1]
            other = next(others, None)
            if other is None:
                stack.pop()
                open_now.discard(code)
                done.add(code)
            elif other not in open_now:
                kept[code].append(other)
                if other not in done:
                    open_now.add(other)
                    stack.append((other, iter(ways[other])))
    return {code: tuple(others) for code, others in kept.items()}


def longest_paths(ways: Ways) -> dict[str, int]:
    """Return the number of components upstream of each on the longest path; loops are cut where they close."""
    ways = without_loops(ways)
    waits = {code: sum(code in others for others in ways.values()) for code in ways}
    found = dict.fromkeys(ways, 0)
    ready = sorted(code for code, count in waits.items() if count == 0)
    while ready:
        code = ready.pop()
        for other in ways[code]:
            found[other] = max(found[other], found[code] + 1)
            waits[other] -= 1
            if not waits[other]:
                ready.append(other)
    return found


def longest_chain(ways: Ways, columns: Mapping[str, int]) -> tuple[str, ...]:
    """Return the longest chain of components, each in a higher column than the one before."""
    best: dict[str, tuple[str, ...]] = {}
    for code in sorted(ways, key=lambda code: (-columns[code], code)):
        tails = [best[other] for other in ways[code] if columns[other] > columns[code]]
        best[code] = (code, *min(tails, key=_longest_first, default=()))
    return min(best.values(), key=_longest_first, default=())


def _longest_first(chain):
    return -len(chain), chain
