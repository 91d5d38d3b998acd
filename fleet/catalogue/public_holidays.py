"""Public holidays by country and region, as the package `holidays` publishes them. Confirm them locally.

The package states the law of each country as far as its authors know it; holidays by decree and of a town are not in
it. A site enters those as free days of its own.
"""

from datetime import date
from functools import lru_cache

import holidays


@lru_cache(maxsize=1)
def _countries():
    """Return code -> codes of its subdivisions."""
    return {code: tuple(parts) for code, parts in holidays.list_supported_countries(include_aliases=False).items()}


@lru_cache(maxsize=1)
def country_choices():
    """Return (code, name) of every country, by name."""
    names = {codes[1]: key.replace("_", " ").title() for key, codes in holidays.registry.COUNTRIES.items()}
    return sorted(((code, names.get(code, code)) for code in _countries()), key=lambda one: one[1])


def country_problem(code: str) -> str:
    """Return what is wrong with a code of a country, empty if nothing."""
    if not code or code in _countries():
        return ""
    return f"“{code}” is not a country whose public holidays are known. Enter a code such as KE, DE or NZ, or none."


def subdivision_problem(country: str, code: str) -> str:
    """Return what is wrong with a code of a region of a country, empty if nothing."""
    if not code:
        return ""
    known = _countries().get(country, ())
    if code in known:
        return ""
    accepted = f"Accepted: {', '.join(known)}, or none." if known else "Leave it empty: no region is known for it."
    return f"“{code}” is no region of the country. {accepted}"


def holidays_between(country: str, subdivision: str, first: date, last: date) -> dict[date, str]:
    """Return the public holidays from `first` to `last` with their names; none for a country that is not known."""
    found = {}
    if country_problem(country) or not country:
        return found
    region = "" if subdivision_problem(country, subdivision) else subdivision
    for year in range(first.year, last.year + 1):
        found |= {day: name for day, name in _of_year(country, region, year).items() if first <= day <= last}
    return found


@lru_cache(maxsize=256)
def _of_year(country, subdivision, year):
    return dict(holidays.country_holidays(country, subdiv=subdivision or None, years=year))
