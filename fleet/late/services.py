"""Packages that talk to a service, apart, so that plain Python can be kept from them (see pyproject.toml)."""

from fleet.late import LateModule

redis = LateModule("redis")
