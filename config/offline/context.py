"""What the head of every page passes to its scripts about the device."""

import json

from config.offline.middleware import now_ms
from fleet.web.device import device_mark
from inspections.views.device_requests import ADDRESSES


def device(request):
    """Context processor: `device_person`, `device_time` and `device_addresses`."""
    return {
        "device_person": device_mark(request),
        "device_time": getattr(request, "came_at_ms", None) or now_ms(),
        "device_addresses": json.dumps(ADDRESSES),
    }
