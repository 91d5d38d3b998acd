"""Server time, queries and slowest query of the pages on 5,000 machines with 200,000 results, beside an empty page.

`python -m tests.benchmarks.bench_pages` builds the fleet if it is not there and measures it on SQLite and PostgreSQL.
"""

import sys
import time

from tests.benchmarks.databases import filled_postgresql, run_module, set_up

REPEATS = 15


def main():
    if sys.argv[1:]:
        return measure_here(*sys.argv[1:])
    set_up()
    from tests.benchmarks.builder import build, counts
    from tests.benchmarks.databases import SQLITE

    build(SQLITE)
    print(f"The fleet: {counts()}.\n", flush=True)
    run_module("bench_pages", "SQLite")
    with filled_postgresql() as url:
        run_module("bench_pages", "PostgreSQL", database_url=url)


def measure_here(title, *only):
    """Print the table of the database that the environment names, of all pages or of those whose name begins so."""
    import django

    django.setup()
    from django.test import override_settings

    from tests.benchmarks.harness import measure, table
    from tests.benchmarks.pages import EMPTY, ReadingEntry, page_cases

    with override_settings(ROOT_URLCONF="tests.benchmarks.urls"):
        cases = {
            name: case for name, case in page_cases().items() if not only or name == EMPTY or name.startswith(only)
        }
        try:
            queries = {name: asked(name, case) for name, case in cases.items()}
            timings = measure(cases, repeats=REPEATS)
        finally:
            for case in cases.values():
                if isinstance(case, ReadingEntry):
                    case.undo()
    print(table(f"Server time of pages on {title}", timings, baseline=EMPTY))
    print(queries_table(queries), flush=True)


def asked(name, case):
    """Request a page once; return its queries as (seconds, SQL), and its size. AssertionError for another status."""
    from django.db import connection

    found = []

    def timed(execute, sql, params, many, context):
        start = time.perf_counter()
        try:
            return execute(sql, params, many, context)
        finally:
            found.append((time.perf_counter() - start, sql))

    case()
    with connection.execute_wrapper(timed):
        response = case()
    assert response.status_code == 200, f"{name}: {response.status_code} {response.content[:300]!r}"
    return found, len(response.content)


def queries_table(queries):
    """Return, for each page, the number of queries, the time in them, and the slowest one."""
    width = max(map(len, queries))
    lines = [f"\n{'':{width}}  queries   in them ms  slowest ms   page kB  the slowest query begins"]
    for name, (found, size) in queries.items():
        total, (slowest, sql) = sum(seconds for seconds, _ in found), max(found, default=(0.0, ""))
        shown = " ".join(sql.split())
        shown = shown[:20] + " … " + shown[shown.find(" FROM ") :][:90] if len(shown) > 110 else shown
        lines.append(
            f"{name:{width}}  {len(found):7}  {total * 1e3:10.1f}  {slowest * 1e3:10.1f}  {size / 1000:8.0f}  {shown}"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
