"""Types that addresses and bodies of the API share."""

from typing import Annotated, Literal

from ninja import Field, Schema
from pydantic import ConfigDict

from fleet.catalogue import FEATURES
from fleet.models import Duty, State

NO_NUL = r"^[^\x00]*$"  # a database of the served kind keeps no NUL character

Pk = Annotated[int, Field(ge=1, le=2**53 - 1)]  # what JSON numbers hold exactly; RFC 8259, section 6
Words = Annotated[str, Field(min_length=1, max_length=80, pattern=NO_NUL, description="Any part of the text.")]
Code = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9_-]+$")]
FeatureCode = Literal[tuple(FEATURES)]
FeatureStateWord = Literal[tuple(State.values)]
DutyWord = Literal[tuple(Duty.values)]


class Body(Schema):
    """What a request sends: exactly the fields that are declared."""

    model_config = ConfigDict(extra="forbid")
