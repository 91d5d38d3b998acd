"""Types that addresses and bodies of the API share."""

import re
from datetime import date
from typing import Annotated, Literal

from ninja import Field, Schema
from pydantic import BeforeValidator, ConfigDict

from fleet.catalogue import FEATURES
from fleet.characters import ACCEPTED_CHARACTER, ACCEPTED_WORD
from fleet.models import Duty, State

PRINTABLE = f"^{ACCEPTED_CHARACTER}*$"
NOT_BLANK = f"^{ACCEPTED_CHARACTER}*{ACCEPTED_WORD}{ACCEPTED_CHARACTER}*$"

WRITTEN_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


def written_day(value):
    """Refuse what the validator would take for seconds since 1970. Source: RFC 3339, full-date."""
    if not isinstance(value, date) and not WRITTEN_DAY.fullmatch(str(value)):
        raise ValueError("write a date as year-month-day, such as 2026-11-02")
    return value


Day = Annotated[date, BeforeValidator(written_day)]
Pk = Annotated[int, Field(ge=1, le=2**53 - 1)]  # what JSON numbers hold exactly; RFC 8259, section 6
Words = Annotated[str, Field(min_length=1, max_length=80, pattern=PRINTABLE, description="Any part of the text.")]
Code = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9_-]+$")]
FeatureCode = Literal[tuple(FEATURES)]
FeatureStateWord = Literal[tuple(State.values)]
DutyWord = Literal[tuple(Duty.values)]


class Body(Schema):
    """What a request sends: exactly the fields that are declared."""

    model_config = ConfigDict(extra="forbid")
