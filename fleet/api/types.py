"""Types that addresses and bodies of the API share."""

from datetime import date
from typing import Annotated, Literal

from ninja import Field, Schema
from pydantic import BeforeValidator, ConfigDict, WithJsonSchema

from fleet.catalogue import FEATURES
from fleet.characters import ACCEPTED_CHARACTER, ACCEPTED_WORD
from fleet.days import day_within, read_day
from fleet.models import MachineStatus, State

PRINTABLE = f"^{ACCEPTED_CHARACTER}*$"
NOT_BLANK = f"^{ACCEPTED_CHARACTER}*{ACCEPTED_WORD}{ACCEPTED_CHARACTER}*$"


def written_day(value):
    """Refuse numbers, which the validator would read as seconds since 1970, and days outside the range of records."""
    return day_within(value) if isinstance(value, date) else read_day(str(value))


YEARS = "19[0-9]{2}|20[0-9]{2}|2100"  # FIRST_DAY to LAST_DAY, which a JSON schema can only express as a pattern
DAY_SCHEMA = {"type": "string", "format": "date", "pattern": f"^({YEARS})-[0-9]{{2}}-[0-9]{{2}}$"}
Day = Annotated[date, BeforeValidator(written_day), WithJsonSchema(DAY_SCHEMA)]
Pk = Annotated[int, Field(ge=1, le=2**53 - 1)]  # the integers that JSON numbers represent exactly; RFC 8259, section 6
Words = Annotated[str, Field(min_length=1, max_length=80, pattern=PRINTABLE, description="Any part of the text.")]
Code = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9_-]+$")]
FeatureCode = Literal[tuple(FEATURES)]
FeatureStateWord = Literal[tuple(State.values)]
StatusWord = Literal[tuple(MachineStatus.values)]


class Body(Schema):
    """What a request sends: exactly the fields that are declared."""

    model_config = ConfigDict(extra="forbid")
